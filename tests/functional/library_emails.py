"""The emails of the account library that never leave."""

# Emails of the library that nothing here can cause, and why.
NEVER = {
    "account/email/account_already_exists": "nobody signs up",
    "account/email/email_changed": "the library's page for addresses is closed",
    "account/email/email_confirm": "the library's page for addresses is closed",
    "account/email/email_confirmation": "addresses are not confirmed: people come by invitation",
    "account/email/email_confirmation_signup": "nobody signs up",
    "account/email/email_deleted": "the library's page for addresses is closed",
    "account/email/login_code": "nobody signs in by a code in an email",
    "account/email/password_reset_code": "a link is sent, not a code",
    "account/email/password_reset_key": "sent by an operation, to the account's own address",
    "account/email/unknown_account": "nobody is written to at an address without an account",
    "mfa/email/webauthn_added": "there are no security keys",
    "mfa/email/webauthn_removed": "there are no security keys",
}
