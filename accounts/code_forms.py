"""The account library's forms for a code of the second factor, with their guesses counted."""

from allauth.core import context
from allauth.mfa.base.forms import AuthenticateForm, BaseAuthenticateForm, ReauthenticateForm

from accounts import guesses


class _Counted(BaseAuthenticateForm):
    def clean_code(self) -> str:
        with guesses.at_code(context.request, self.user.email) as guess:
            code: str = super().clean_code()  # raises ValidationError where it is wrong
            guess.is_right = True
        return code


class CodeForm(_Counted, AuthenticateForm):
    """Asked for while signing in."""


class AgainCodeForm(_Counted, ReauthenticateForm):
    """Asked for again before something that matters."""
