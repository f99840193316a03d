from django.apps import AppConfig


class NoticesConfig(AppConfig):
    name = "curehouse.notices"
    label = "notices"
