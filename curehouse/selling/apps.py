from django.apps import AppConfig


class SellingConfig(AppConfig):
    name = "curehouse.selling"
    label = "selling"
