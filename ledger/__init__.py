"""Blankbook: an inventory and consumables ledger for a home T-shirt decorating shop."""

__version__ = "0.1.0"
