"""The API's settings."""

REST_FRAMEWORK = {
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["api.parsers.ExactJSONParser"],
    "DEFAULT_SCHEMA_CLASS": "api.openapi.Described",
    "EXCEPTION_HANDLER": "api.errors.problem_response",
    # The first one says what a 401 asks for.
    "DEFAULT_AUTHENTICATION_CLASSES": ["api.authentication.DeviceTokenAuthentication", "api.authentication.MemberSession"],
    "DEFAULT_PERMISSION_CLASSES": ["api.permissions.WorkshopMember"],
    "DEFAULT_PAGINATION_CLASS": "api.pagination.AfterTheLastRow",
    "DEFAULT_FILTER_BACKENDS": ["api.filtering.StrictFilters"],
    "COERCE_DECIMAL_TO_STRING": True,
    "URL_FORMAT_OVERRIDE": None,
}

SPECTACULAR_SETTINGS = {
    "TITLE": "Curehouse",
    "DESCRIPTION": "Batches, sample bars, weighings, racks, the air of rooms, the storeroom and notices of one workshop.",
    "VERSION": "1",
    "SCHEMA_PATH_PREFIX": "/api/v1/",
    "SERVE_INCLUDE_SCHEMA": False,
    # `objects` refuses to work without a workshop, and a schema is nobody's.
    "DEFAULT_QUERY_MANAGER": "unscoped",
    "SERVE_PERMISSIONS": ["api.permissions.WorkshopMember"],
    # Read-only fields are not taken: requests and answers are described apart.
    "COMPONENT_SPLIT_REQUEST": False,
    "ENUM_NAME_OVERRIDES": {
        "BatchState": "curehouse.making.models.Batch.State",
        "CureState": "curehouse.curing.models.verdicts.State",
        "ImportState": "curehouse.intake.models.Import.State",
        "ImportUnit": "api.imports.UNIT_CHOICES",
        "WeightUnit": "curehouse.workshops.models.Workshop.Unit",
        "NoticeState": "curehouse.notices.models.Notice.State",
        "LiquidPlace": "curehouse.making.models.BatchLiquid.Place",
        "PourState": "curehouse.making.models.Pour.State",
        "LotStanding": "inventory.models.Lot.Standing",
        "ReadingStanding": "api.readings.STANDINGS",
        "RunStanding": "api.runs.STANDINGS",
        "Irregular": "inventory.models.Irregular",
        "MaterialKind": "inventory.models.Material.Kind",
        "MovementKind": "inventory.models.Movement.Kind",
    },
    "POSTPROCESSING_HOOKS": ["drf_spectacular.hooks.postprocess_schema_enums", "api.schema.describe_problems"],
}
