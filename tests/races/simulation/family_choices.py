"""What guardians decide, and what is decided about them: chosen by the step's own numbers."""

from tests.races.simulation.choices import Choices


class FamilyChoices(Choices):
    """Steps by name, as in `Choices`."""

    def _consent(self) -> None:
        child = self._child()
        self.acts.consent(child, self._guardian(child), given=self.chance.random() < 0.6)

    def _bar(self) -> None:
        """Mostly one of two guardians."""
        child = self.chance.choice([8, 11]) if self.chance.random() < 0.7 else self._child()
        self.acts.bar(child, self._guardian(child))

    def _child(self) -> int:
        return self.chance.randint(8, 11)

    def _guardian(self, child: int) -> int:
        return self.chance.randrange(len(self.school.guardians[child]))
