"""The data map against the models: nothing is stored of a person that export and erasure forget."""

from collections import Counter

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db.models import Model

from bookings.queries.data_map import DATA_MAP, Erased, Table
from bookings.queries.retention import KINDS


def model_of(table: Table) -> type[Model]:
    return apps.get_model(table.model)


def test_every_column_of_every_model_has_one_entry() -> None:
    """A new column without an entry fails here, and so does a column that is gone."""
    stored = {
        model._meta.label: sorted(field.name for field in model._meta.concrete_fields)
        for model in apps.get_models()
    }
    assert {table.model: sorted(table.columns) for table in DATA_MAP} == stored


def test_no_table_and_no_list_of_an_export_comes_twice() -> None:
    """A second list of the same name would hide the first in the archive."""
    named = Counter([table.model for table in DATA_MAP])
    named += Counter([table.name for table in DATA_MAP if table.name])
    assert [name for name, times in named.items() if times > 1] == []


def test_a_table_that_holds_a_persons_words_says_whose_they_are() -> None:
    """Else neither export nor erasure would find its rows."""
    for table in DATA_MAP:
        if table.name or table.erased in (Erased.EMPTIED, Erased.DELETED):
            assert table.student or table.account, table.model


def test_what_stays_holds_no_words_of_a_person() -> None:
    """A column that goes stands in no table whose rows are kept as they are."""
    kept = [table for table in DATA_MAP if table.erased == Erased.KEPT]
    told = {table.model: table.emptied for table in kept if table.model != "sessions.Session"}
    assert {model: names for model, names in told.items() if names} == {}


def test_sealed_columns_are_opened_by_a_property_of_their_model() -> None:
    """Sealed bytes are of no use to whoever reads an export."""
    for table in DATA_MAP:
        for column, opener in table.opened.items():
            assert column in table.columns
            assert isinstance(getattr(model_of(table), opener), property)


def test_every_path_of_the_map_leads_somewhere() -> None:
    """The lookups are those of the models: a renamed relation fails here."""
    for table in DATA_MAP:
        paths = [table.student, table.account, *table.joined.values(), *table.ordinary]
        for path in filter(None, paths):
            model: type[Model] | None = model_of(table)
            for step in path.split("__"):
                assert model is not None, (table.model, path)
                if step == "pk":
                    continue
                try:
                    field = model._meta.get_field(step)
                except FieldDoesNotExist as error:
                    raise AssertionError((table.model, path)) from error
                model = field.related_model  # type: ignore[assignment]


def holds_people(table: Table) -> bool:
    """Whether rows of the table tell of somebody, or name them by id."""
    groups = (table.goes, table.health, table.private, table.secret, table.others)
    return bool(table.student or table.account or any(groups))


def test_every_table_of_people_says_when_its_rows_go_or_why_they_stay() -> None:
    """Source: GDPR article 5 (1) (e). A new table needs a retention time or a written reason."""
    emptying = {kind.code for kind in KINDS if kind.empties}
    for table in filter(holds_people, DATA_MAP):
        ends = set(table.ends.split())
        stays, goes = table.stays.endswith("."), table.until.endswith(".")
        assert ends - emptying or stays != goes, table.model


def test_the_map_names_each_kind_at_its_table() -> None:
    """A kind that the map does not know, or the other way round, fails here."""
    named = {(code, table.model) for table in DATA_MAP for code in table.ends.split()}
    assert {code for code, _ in named} == {kind.code for kind in KINDS}
    assert {(kind.code, kind.model) for kind in KINDS} <= named


def test_what_a_kind_empties_is_a_column_of_its_table() -> None:
    """A renamed column fails here."""
    columns = {table.model: table.columns for table in DATA_MAP}
    for kind in KINDS:
        assert set(kind.empties) <= set(columns[kind.model]), kind.code
