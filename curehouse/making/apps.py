from django.apps import AppConfig


class MakingConfig(AppConfig):
    name = "curehouse.making"
    label = "making"
