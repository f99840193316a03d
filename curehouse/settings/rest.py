"""The API's settings."""

REST_FRAMEWORK = {
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "api.errors.problem_response",
    "DEFAULT_AUTHENTICATION_CLASSES": ["api.authentication.DeviceTokenAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["api.permissions.WorkshopMember"],
    "COERCE_DECIMAL_TO_STRING": True,
}

SPECTACULAR_SETTINGS = {
    "TITLE": "Curehouse",
    "DESCRIPTION": "Batches, sample bars, weighings, racks and notices of one workshop.",
    "VERSION": "1",
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "SERVE_INCLUDE_SCHEMA": False,
}
