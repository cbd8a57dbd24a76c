"""Holds the work against something outside it: drawing against sheet, OpenSees, closed forms, audits."""
