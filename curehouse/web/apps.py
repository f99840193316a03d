from django.apps import AppConfig


class WebConfig(AppConfig):
    name = "curehouse.web"
    label = "web"
