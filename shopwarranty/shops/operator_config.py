"""Makes the operator's site the one admin site of the project."""

from django.contrib.admin.apps import AdminConfig


class OperatorAdminConfig(AdminConfig):
    default_site = "shopwarranty.shops.operator_site.OperatorSite"
