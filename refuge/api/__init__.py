"""What the apps' APIs share. Each app's own part is its api.py; refuge/api_urls.py ties them together.

A record is judged by the form that its page uses and written by the service that its page uses, so both always
agree. Numbers are SI and named by their columns; a client makes the uuid, and the same one twice is one record.
"""
