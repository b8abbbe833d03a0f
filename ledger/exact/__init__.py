"""Exact amounts: money in whole minor units, quantities in whole thousandths, currencies."""
