from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "shopwarranty.inspections"
