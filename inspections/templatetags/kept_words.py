"""Texts on record in templates: ``{{ fault.note|as_read }}``."""

from django import template

from inspections.kept_words import as_read

register = template.Library()
register.filter("as_read", as_read)
