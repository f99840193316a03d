from django.apps import AppConfig


class IntakeConfig(AppConfig):
    name = "curehouse.intake"
    label = "intake"
