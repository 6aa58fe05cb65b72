"""What is sent to the API, read as JSON."""

import json
from typing import Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser


class WholeJSONParser(JSONParser):
    """JSON whose text is whole. An escape may name half of a surrogate pair, which nothing can store or send back."""

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        data = super().parse(stream, media_type, parser_context)
        try:
            json.dumps(data, ensure_ascii=False).encode()
        except UnicodeEncodeError:
            raise ParseError(
                "A text holds half of a surrogate pair, such as \\ud800 alone. Send whole letters."
            ) from None
        return data
