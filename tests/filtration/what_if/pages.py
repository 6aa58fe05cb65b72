"""Reading what a page of a what-if answers."""

import re


def text(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode())).replace("\u00a0", " ")


def part(client, path, data):
    return client.get(path, data, headers={"HX-Request": "true"})
