"""Files in: spreadsheets, csv, profiles, exchange rates."""
