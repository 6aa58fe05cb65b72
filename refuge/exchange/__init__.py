"""Files in and out: tables that a refuge takes with it, and lists that it brings.

Apps register their tables in <app>/resources.py. A row of a file is judged by the form that its page uses and
written by the service that its page uses.

columns.py     what a table has in a file        resource.py  one table: written out, and read in
reading.py     a CSV or XLSX file as rows        cells.py     what a cell says, for a form
importing.py   preview, and then all or nothing  waiting.py   the file between the two
writing.py     CSV, XLSX and ZIP                 history.py   earlier versions of what was amended
"""
