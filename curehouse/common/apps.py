from django.apps import AppConfig


class CommonConfig(AppConfig):
    name = "curehouse.common"
    label = "common"
