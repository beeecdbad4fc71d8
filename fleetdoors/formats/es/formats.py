"""Numbers with a decimal point, as instruments and parts lists of these yards show them."""

DECIMAL_SEPARATOR = "."
THOUSAND_SEPARATOR = ","
DATE_FORMAT = r"j \d\e F \d\e Y"
SHORT_DATE_FORMAT = "d/m/Y"
FIRST_DAY_OF_WEEK = 1
