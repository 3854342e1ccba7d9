"""What an order looks like outside: a sheet, XML, a spreadsheet, words for the phone. Pure."""
