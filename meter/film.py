"""A film: its speed, the curves that correct its long exposures, and what its sheet says beside."""

from dataclasses import dataclass

from meter.errors import BadInput
from meter.factors import Filter
from meter.reciprocity import Curve

KINDS = ("negative", "reversal")
PROCESSES = ("bw", "c41", "e6")


@dataclass(frozen=True)
class Film:
    """speed_iso: ISO speed. ei: the exposure index it is named for, where that is another.

    kind: a key of KINDS. process: a key of PROCESSES. sheet: the document its figures come from.
    curves: empty where no reciprocity figure is known. default_reason: why default_curve was chosen, one sentence.
    filters: filter figures of this film alone; they replace the general ones. also: other names people use.
    source, evidence: of the speed.
    """

    slug: str
    name: str
    speed_iso: int
    kind: str
    process: str
    sheet: str = ""
    curves: tuple[Curve, ...] = ()
    default_curve: str | None = None
    default_reason: str = ""
    filters: tuple[Filter, ...] = ()
    notes: tuple[str, ...] = ()
    ei: int | None = None
    also: tuple[str, ...] = ()
    source: str = ""
    evidence: str = ""

    @property
    def ei_default(self) -> int:
        """The exposure index to meter at when nobody says otherwise."""
        return self.speed_iso if self.ei is None else self.ei

    def curve(self, name: str | None = None) -> Curve | None:
        """The curve of this name, or the default one; None where the film has none and none is asked for.

        Raises BadInput, naming the curves that exist.
        """
        wanted = self.default_curve if name is None else name
        if wanted is None:
            return None
        for curve in self.curves:
            if curve.name == wanted:
                return curve
        there_are = ", ".join(curve.name for curve in self.curves) or "none"
        raise BadInput(f"{self.name} has no reciprocity curve '{wanted}'; its curves: {there_are}")
