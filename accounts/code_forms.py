"""The account library's forms for a code of the second factor, with guesses counted."""

from allauth.core import context
from allauth.mfa.base.forms import AuthenticateForm, BaseAuthenticateForm, ReauthenticateForm

from accounts import guesses


class _Counted(BaseAuthenticateForm):
    def clean_code(self) -> str:
        with guesses.at_code(context.request, self.user.email) as guess:
            code: str = super().clean_code()  # raises ValidationError for a wrong code
            guess.is_right = True
        return code


class CodeForm(_Counted, AuthenticateForm):
    """The form for a code while signing in."""


class AgainCodeForm(_Counted, ReauthenticateForm):
    """The form for a code before an important change."""
