"""Exchanges of weekly places: what families wish, and the cycles whose families are asked."""

from datetime import datetime

from django.db import models
from django.db.models import F, Q

from bookings.domain.vocabulary import Ended
from bookings.models.choices import choices_of, values_of
from bookings.models.plans import Plan
from bookings.models.terms import Term, WeeklyPlace


class WishOrder(models.Model):
    """The weekly times that a family would rather have than this place. Every change raises its
    version; it goes when the place ends.
    """

    place = models.OneToOneField(WeeklyPlace, on_delete=models.CASCADE, related_name="wish_order")
    version = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["place"]

    def __str__(self) -> str:
        return f"order of weekly place {self.place_id}"


class PlaceWish(models.Model):
    """One wished time, by the place that has it now. `rank` 1 is the best."""

    order = models.ForeignKey(WishOrder, on_delete=models.CASCADE, related_name="wishes")
    wished = models.ForeignKey(WeeklyPlace, on_delete=models.CASCADE, related_name="+")
    rank = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["order", "rank"]
        constraints = [
            models.UniqueConstraint(fields=["order", "wished"], name="place_wish_once"),
            models.UniqueConstraint(fields=["order", "rank"], name="place_wish_strict"),
        ]

    def __str__(self) -> str:
        return f"{self.rank}: weekly place {self.wished_id}"


class ExchangeQuerySet(models.QuerySet["Exchange"]):
    """Exchanges by state."""

    def unanswered(self) -> "ExchangeQuerySet":
        """Those that not all families have answered, and that have not lapsed."""
        return self.filter(ended_at__isnull=True)

    def lapsed_by(self, now: datetime) -> "ExchangeQuerySet":
        """Unanswered ones whose time to answer is over."""
        return self.unanswered().filter(answer_by__lte=now)


class Exchange(models.Model):
    """One cycle of an adopted plan: all of its places change hands together, or none does.

    `ended_why` is PLACED where they did.
    """

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="exchanges")
    term = models.ForeignKey(Term, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    answer_by = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=20, choices=choices_of(Ended), blank=True)

    objects = ExchangeQuerySet.as_manager()

    class Meta:
        ordering = ["answer_by", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_why="")
                | (Q(ended_at__isnull=False) & Q(ended_why__in=values_of(Ended))),
                name="exchange_end_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"exchange {self.pk} of {self.term}"


class ExchangeMove(models.Model):
    """What one family is asked: to leave `place` and to have the time of `takes`.

    `first_at` is the first lesson that the new time would have when the family was asked, and
    `said_yes_at` when it agreed; a no ends the exchange.
    """

    exchange = models.ForeignKey(Exchange, on_delete=models.CASCADE, related_name="moves")
    place = models.ForeignKey(WeeklyPlace, on_delete=models.PROTECT, related_name="exchange_moves")
    takes = models.ForeignKey(WeeklyPlace, on_delete=models.PROTECT, related_name="+")
    first_at = models.DateTimeField()
    said_yes_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["exchange", "id"]
        verbose_name = "exchange"
        constraints = [
            models.UniqueConstraint(fields=["exchange", "place"], name="exchange_move_leaves_once"),
            models.UniqueConstraint(fields=["exchange", "takes"], name="exchange_move_takes_once"),
            models.CheckConstraint(
                condition=~Q(place=F("takes")), name="exchange_move_goes_elsewhere"
            ),
        ]

    def __str__(self) -> str:
        return f"weekly place {self.place_id} for {self.takes_id}"
