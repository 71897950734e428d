from django.apps import AppConfig


class SafekeepingConfig(AppConfig):
    name = "shopwarranty.safekeeping"
