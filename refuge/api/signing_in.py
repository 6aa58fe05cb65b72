"""A token for a sign-in name and a password, for programs that keep no cookies."""

from django.core.exceptions import NON_FIELD_ERRORS
from django.utils.decorators import method_decorator
from django.views.decorators.debug import sensitive_post_parameters
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import Throttled
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from refuge.api.errors import refuse_invalid
from refuge.api.fields import StrictSerializer
from refuge.people.forms import SignInForm
from refuge.people.services import token_issue
from refuge.people.tries import WINDOW_S


class SignInIn(StrictSerializer):
    username = serializers.CharField(max_length=150)
    password = serializers.CharField(max_length=4096, trim_whitespace=False)


class SignInOut(serializers.Serializer):
    token = serializers.CharField(help_text="Send it as the header “Authorization: Token …”.")
    name = serializers.CharField()
    role = serializers.CharField()


@method_decorator(sensitive_post_parameters(), name="dispatch")
class SignInView(APIView):
    """The same form as the page's, with the same count of wrong tries."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @extend_schema(
        request=SignInIn,
        responses={
            200: SignInOut,
            400: OpenApiResponse(description="Name and password do not go together."),
            429: OpenApiResponse(description="Too many wrong passwords: wait."),
        },
        auth=[],
    )
    def post(self, request: Request) -> Response:
        """Get your token. It lasts until it is replaced or revoked on “My settings”, or access is removed."""
        entry = SignInIn(data=request.data)
        entry.is_valid(raise_exception=True)
        form = SignInForm(request._request, data=entry.validated_data)
        if form.has_error(NON_FIELD_ERRORS, "too_many"):
            raise Throttled(wait=WINDOW_S)
        refuse_invalid(form)
        person = form.get_user()
        return Response({"token": token_issue(person=person), "name": person.name, "role": person.role})
