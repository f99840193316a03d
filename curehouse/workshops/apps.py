from django.apps import AppConfig


class WorkshopsConfig(AppConfig):
    name = "curehouse.workshops"
    label = "workshops"
