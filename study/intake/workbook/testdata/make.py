# Made-up workbooks, written by openpyxl 3.0.9 (Debian: python3-openpyxl), which shares no code with the reader:
#
#     python3 make.py
#
# The files are committed; they are made again only when a case is added.
import datetime
import math

from openpyxl import Workbook
from openpyxl.styles import numbers

STAMP = datetime.datetime(2031, 1, 2)


def save(book, name):
    book.properties.created = book.properties.modified = STAMP
    book.save(name)


def fill(sheet, rows):
    for row in rows:
        sheet.append(row)
    return sheet


# Rosters: three sheets, days as dates, codes as numbers with leading zeros, a sum that is not exact and that openpyxl rounds.
book = Workbook()
coupons = fill(book.active, [
    ["coupon", "role", "supplier", "coating", "lot", "glass", "glass_mm", "back", "exposure"],
    [7, "exposed", "Hersteller Ö", "K, with a comma", 1, "soda-lime", 3.2, "matched", "roof"],
    ["#8", "exposed", "m", 'in "quotes"', "1", "soda-lime", None, "matched", "roof"],
    [None] * 9,
    ["# a comment", "that goes on"],
    ["B1", "blank", None, None, None, "soda-lime", None, "matched", None],
])
coupons.title = "Coupons"
coupons["A2"].number_format = "000"
exposures = fill(book.create_sheet("Exposures"), [
    ["exposure", "protocol", "site", "dose_unit", "start"],
    ["roof", "rack", "Süd µ²", "days", datetime.date(2031, 1, 2)],
])
exposures["E2"].number_format = "dd.mm.yyyy"
pulls = fill(book.create_sheet("Pulls"), [
    ["exposure", "pull", "dose", "date"],
    ["roof", 0, 0, datetime.date(2031, 1, 2)],
    ["roof", 1, 0.1 + 0.2, datetime.datetime(2031, 3, 10)],
    ["roof", 2, 30.5, None],
])
for cell in ("D2", "D3"):
    pulls[cell].number_format = numbers.FORMAT_DATE_XLSX14
save(book, "rosters.xlsx")

# Numbers of all sizes, and an hour.
book = Workbook()
fill(book.active, [["a", "b"], [1e-7, 12345678901], [-0.25, 1e20], [datetime.datetime(2031, 4, 10, 12, 30), 0]])
save(book, "numbers.xlsx")

# Days counted from 1904, as old programs on one make of computer count them.
book = Workbook()
book.epoch = datetime.datetime(1904, 1, 1)
fill(book.active, [["exposure", "pull", "dose", "date"], ["roof", 0, 0, datetime.date(2031, 1, 2)]])
save(book, "days-1904.xlsx")

# What can be two things, each on a sheet of its own.
book = Workbook()
sheets = {
    "formula": "=1+2",
    "percent": 0.0423,
    "error": "#N/A",
    "lines": "two\nlines",
    "merged": "over two",
    "yes": True,
}
for name, value in sheets.items():
    sheet = fill(book.create_sheet(name), [["a", "b"], ["x", value]])
book.remove(book.active)
book["percent"]["B2"].number_format = "0.0%"
book["error"]["B2"].data_type = "e"
book["merged"].merge_cells("B2:B3")
save(book, "doubtful.xlsx")

# An export of an instrument: lines above the table, a heading over two lines.
book = Workbook()
sheet = book.active
sheet.title = "Scan 1"
fill(sheet, [["Sample:", "A01"], ["Date:", datetime.date(2031, 3, 10)], [], ["Wavelength (nm)", "8 deg\n%R", "45 deg %R"]])
for nm in range(380, 1101, 5):
    sheet.append([nm, round(3 + math.sin(nm / 90), 4), round(4 + math.cos(nm / 90), 4)])
save(book, "scan.xlsx")

# Measurements, and a map, of the coupons of rosters.xlsx.
book = Workbook()
fill(book.active, [
    ["coupon", "pull", "spot", "quantity", "value", "u", "unit", "method", "date", "operator", "picture", "note"],
    ["B1", 0, 1, "haze", 1.25, 0.05, "percent", "haze meter", datetime.date(2031, 1, 2), "ada", None, None],
])
save(book, "haze.xlsx")
book = Workbook()
fill(book.active, [
    ["file", "column", "coupon", "pull", "spot", "angle_deg", "polarisation", "quantity", "unit"],
    ["scan.xlsx", "#2", "007", 0, 1, 8, "u", "R", "percent"],
    ["scan.xlsx", "45 deg %R", "007", 0, 1, 45, "u", "R", "percent"],
])
save(book, "map.xlsx")
