from django.apps import AppConfig


class WarrantyConfig(AppConfig):
    name = "shopwarranty.warranty"
