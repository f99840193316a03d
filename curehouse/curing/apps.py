from django.apps import AppConfig


class CuringConfig(AppConfig):
    name = "curehouse.curing"
    label = "curing"
