"""Endings of files that hold a sheet: those that are read, and those that only their own program understands."""

TEXT_ENDINGS = (".csv", ".tsv", ".txt")
SHEET_ENDINGS = (*TEXT_ENDINGS, ".xlsx")
# Go to the reader of sheets too, which refuses them by what they are and names the format to save as.
OTHER_PROGRAMS = {
    ".ods": "an OpenDocument spreadsheet",
    ".fods": "an OpenDocument spreadsheet",
    ".xlsm": "a workbook with macros",
    ".xlsb": "a workbook in binary form",
    ".xls": "a workbook of the old kind",
    ".numbers": "a spreadsheet of another kind",
}
