"""One builder for each table: terminal, page, worksheet, CSV and markdown show what is built here."""
