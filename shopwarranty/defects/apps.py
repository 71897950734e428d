from django.apps import AppConfig


class DefectsConfig(AppConfig):
    name = "shopwarranty.defects"
