from django.apps import AppConfig


class CommandsConfig(AppConfig):
    name = "curehouse.commands"
    label = "commands"
