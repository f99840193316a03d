"""Who is at the API's door: a device with its token, or a member signed in at the pages."""

from typing import Any

from django.utils import timezone
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, SessionAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from curehouse.common.visitors import address_block, remote_address
from curehouse.workshops.models import DeviceToken, User
from curehouse.workshops.services import TOKEN_PREFIX, brake, find_token
from curehouse.workshops.services.brake import Try

_SCHEME = "Bearer"
_HOW = f"Send the device's token as “Authorization: {_SCHEME} {TOKEN_PREFIX}…”."


class DeviceTokenAuthentication(BaseAuthentication):
    """``Authorization: Bearer ch_…``, the token that a member gave to one device."""

    def authenticate(self, request: Request) -> tuple[User, DeviceToken] | None:
        """Return the member who gave the token, and the token; None where none was sent."""
        parts = get_authorization_header(request).split()
        if not parts or parts[0].lower() != _SCHEME.lower().encode():
            return None
        if len(parts) != 2:
            raise AuthenticationFailed(f"The token is incomplete. {_HOW}", code="token")
        token = find_token(secret=parts[1].decode("latin-1"), at=timezone.now())
        if token is None:
            # A token that opens something is never held up: it cannot be guessed, and its device cannot wait.
            brake.check(Try(brake.TOKEN, address_block(remote_address(request.META))), at=timezone.now())
            raise AuthenticationFailed("This token opens nothing here: it is mistyped, or was taken back.", code="token")
        return token.made_by, token

    def authenticate_header(self, request: Request) -> str:
        """Return what a 401 asks for."""
        return f'{_SCHEME} realm="Curehouse"'


class MemberSession(SessionAuthentication):
    """A member signed in at the pages; a write needs their CSRF token as on any form."""


class DeviceTokenScheme(OpenApiAuthenticationExtension):
    """What the schema says of :class:`DeviceTokenAuthentication`."""

    target_class = DeviceTokenAuthentication
    name = "deviceToken"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        """Return the security scheme."""
        return {"type": "http", "scheme": "bearer", "description": _HOW}


class MemberSessionScheme(OpenApiAuthenticationExtension):
    """What the schema says of :class:`MemberSession`."""

    target_class = MemberSession
    name = "memberSession"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        """Return the security scheme."""
        return {"type": "apiKey", "in": "cookie", "name": "sessionid", "description": "Signed in at the pages."}
