"""One account, as an admin sees it: name, email address, roles, and whether it is open."""

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST

from accounts.models import User
from accounts.second_factor import factors_of
from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.accounts import change_account, change_admin
from bookings.operations.closing import reopen_account
from bookings.operations.leaving import teach_again
from bookings.pages.forms.people import AccountForm, AddressForm
from bookings.pages.parameters import read_seen
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.accounts_of_people import one_person
from bookings.queries.around_people import around_instructor, invitations_to
from bookings.queries.email_troubles import trouble_of
from bookings.queries.guardians import known_guardianships
from bookings.queries.people import one_account, one_teacher, waiting_address


@login_required
@require_http_methods(["GET", "POST"])
def account(request: HttpRequest, user_id: int) -> HttpResponse:
    """GET shows the account; POST changes name and clock."""
    user, now = one_account(user_of(request), user_id), clock.now()
    form = AccountForm(request.POST or None, user=user)
    if request.method == "GET" or not form.is_valid():
        return show_account(request, user, form=form)
    try:
        write(
            lambda: change_account(
                actor=user_of(request),
                user=user,
                seen=read_seen(request),
                now=now,
                **form.cleaned_data,
            ),
            now=now,
        )
    except Refused as refusal:
        return show_account(request, user, form=form, refusal=refusal)
    messages.success(request, "Saved.")
    return redirect("account", user_id=user.pk)


@login_required
@require_POST
def admin_role(request: HttpRequest, user_id: int) -> HttpResponse:
    """Makes somebody an admin, or an admin no longer."""
    user, now = one_account(user_of(request), user_id), clock.now()
    is_admin = request.POST.get("is_admin") == "yes"
    return _act(
        request,
        user,
        lambda: change_admin(actor=user_of(request), user=user, is_admin=is_admin, now=now),
        f"{user.name} is {'now' if is_admin else 'no longer'} an admin.",
    )


@login_required
@require_POST
def reopen(request: HttpRequest, user_id: int) -> HttpResponse:
    """Opens a closed account again."""
    user, now = one_account(user_of(request), user_id), clock.now()
    return _act(
        request,
        user,
        lambda: reopen_account(actor=user_of(request), user=user, seen=read_seen(request), now=now),
        f"The account of {user.name} is open again.",
    )


@login_required
@require_POST
def teach(request: HttpRequest, user_id: int) -> HttpResponse:
    """Lets somebody who was dismissed teach again."""
    teacher, now = one_teacher(user_of(request), user_id), clock.now()
    return _act(
        request,
        teacher.user,
        lambda: teach_again(actor=user_of(request), instructor=teacher, now=now),
        f"{teacher} teaches here again.",
    )


def _act(request: HttpRequest, user: User, act: Callable[[], object], done: str) -> HttpResponse:
    try:
        write(act, now=clock.now())
    except Refused as refusal:
        return show_account(request, user, refusal=refusal)
    messages.success(request, done)
    if user == user_of(request):  # no longer an admin's page to see
        return redirect("home")
    return redirect("account", user_id=user.pk)


def show_account(
    request: HttpRequest,
    user: User,
    *,
    form: AccountForm | None = None,
    address: AddressForm | None = None,
    refusal: Refused | None = None,
) -> HttpResponse:
    """The account, with a form as it was typed where one was refused."""
    person, now = one_person(user_of(request), user.pk), clock.now()
    user, teacher = person.user, getattr(person.user, "instructor", None)
    context = {
        "who": user,
        "seen": person.seen,
        "form": form or AccountForm(user=user),
        "address_form": address or AddressForm(),
        "refusal": refusal,
        "instructor": teacher,
        "student": getattr(user, "student", None),
        "around": around_instructor(user_of(request), teacher, now=now),
        "invitations": invitations_to(user_of(request), user, now=now),
        "guardianships": known_guardianships(user_of(request), user),
        "email_trouble_row": trouble_of(user),
        "has_second_factor": user != user_of(request) and factors_of(user).exists(),
        "new_address": waiting_address(user, now=now),
    }
    return show(request, "levare/account.html", context, is_wrong=bool(address and address.errors))
