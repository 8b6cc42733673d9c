"""Machines: their limits, motion and the words of their programs, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from letterply.catalogue.figures import require_one_of, require_positive
from letterply.catalogue.habits import check_habits
from letterply.sources import Source

__all__ = ["Machine"]


@dataclass(frozen=True, slots=True)
class Machine:
    """A machine, as data: limits, motion and the words of its programs.

    Attributes:
        key: stable name.
        name: for people.
        kind: `router` or `beam`.
        bed_mm: travel in x and y.
        z_travel_mm: travel in z.
        max_feed_mm_per_min: largest feed in the plane.
        max_plunge_mm_per_min: largest feed in z.
        rapid_mm_per_min: travel in the plane, and
        rapid_z_mm_per_min: in z.
        acceleration_mm_per_s2: along the path.
        corner_slack_mm: how far the path may be cut short at a corner; sets corner speed.
        spindle_off: True when the spindle can be stopped by the program.
        look_ahead_moves: how many moves the controller knows, that under way included.
        safe_height_mm: height above the stock for travel.
        zero: `top` (z = 0 on the stock's face) or `bed` (z = 0 on the bed).
        zero_xy: where x and y are nought on a sheet as it lies: `lower-left`, `lower-right`,
            `upper-left` or `upper-right` corner, `centre` of the sheet, the middle of the `parts`,
            or a `pin` of the machine.
        pin_mm: for `pin` where it lies, x and y from the lower left corner of the sheet.
        blank_zero: where z is nought for blanks: their `top`, the face of the `fixture` beside its
            pockets, or the `floor` of a pocket; empty for what suits `zero`.
        blank_zero_xy: where x and y are nought for blanks: the middle of the `first`, or the place
            on the `fixture` that `zero_xy` names on a sheet.
        units: `mm` or `inch`: units of the written program.
        decimals: digits after the point of a coordinate.
        arcs: whether the controller takes G2 and G3.
        arc_form: how it takes them: by their `centre`, as an offset from the start (I, J), by a
            `centre-absolute` in the coordinates of the program, or by their `radius` (R).
        line_end: `lf` or `crlf`.
        program_mark: True when the text stands between two lines of `%`.
        tool_change: `program` (one program a cutter), or `automatic` (M6 in the program).
        spin_up_s: pause after the spindle starts.
        start_words: lines at the start, after the modal line.
        end_words: lines before the end word.
        end_word: `M2` or `M30`.
        tool_change_s: time the maker or the machine needs to change a cutter.
        dwell: whether P of a pause (G4) counts `seconds` or `milliseconds`.
        comments: in `parentheses` or after a `semicolon`.
        line_number_step: by how much the numbers of lines (N) go up; 0 for none.
        coolant_on, coolant_off: lines that switch coolant, and
        coolant_for: classes of material that it is switched on for.
        extraction_on, extraction_off: lines that switch the extraction of dust or fumes, which
            runs while anything cuts.
        park_mm: x and y of where the machine goes for a change of the cutter and at the end; empty
            where it stays.
        park_from: whether `park` counts in the coordinates of the `machine` (G53, from the top of
            its travel) or from the work `zero`.
        length_offsets: whether the length of a cutter is called (G43 H) after a change to it.
        extension: file name extension of its programs.
        spindle_min_rpm: slowest spindle speed of a router, and
        spindle_max_rpm: fastest; 0 for a beam.
        power_full: the S word at which a beam has its full power; 0 for a router.
        sources: name of the attribute -> where its value is from.

    """

    key: str
    name: str
    kind: str
    bed_mm: tuple[float, float]
    z_travel_mm: float
    max_feed_mm_per_min: float
    max_plunge_mm_per_min: float
    rapid_mm_per_min: float
    rapid_z_mm_per_min: float
    acceleration_mm_per_s2: float
    corner_slack_mm: float
    spindle_off: bool
    safe_height_mm: float
    zero: str
    units: str
    decimals: int
    arcs: bool
    line_end: str
    program_mark: bool
    tool_change: str
    spin_up_s: float
    start_words: tuple[str, ...]
    end_words: tuple[str, ...]
    end_word: str
    tool_change_s: float
    extension: str = "nc"
    look_ahead_moves: int = 16
    spindle_min_rpm: float = 0.0
    spindle_max_rpm: float = 0.0
    power_full: float = 0.0
    zero_xy: str = "lower-left"
    pin_mm: tuple[float, ...] = ()
    blank_zero: str = ""
    blank_zero_xy: str = "first"
    arc_form: str = "centre"
    dwell: str = "seconds"
    comments: str = "parentheses"
    line_number_step: int = 0
    coolant_on: tuple[str, ...] = ()
    coolant_off: tuple[str, ...] = ()
    coolant_for: tuple[str, ...] = ("metal",)
    extraction_on: tuple[str, ...] = ()
    extraction_off: tuple[str, ...] = ()
    park_mm: tuple[float, ...] = ()
    park_from: str = "machine"
    length_offsets: bool = False
    sources: Mapping[str, Source] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        require_positive(
            self,
            (
                "z_travel_mm",
                "max_feed_mm_per_min",
                "max_plunge_mm_per_min",
                "rapid_mm_per_min",
                "rapid_z_mm_per_min",
                "acceleration_mm_per_s2",
                "corner_slack_mm",
                "safe_height_mm",
            ),
        )
        require_one_of(self, "kind", ("router", "beam"))
        require_one_of(self, "zero", ("top", "bed"))
        require_one_of(self, "units", ("mm", "inch"))
        require_one_of(self, "line_end", ("lf", "crlf"))
        require_one_of(self, "tool_change", ("program", "automatic"))
        require_one_of(self, "end_word", ("M2", "M30"))
        if min(self.bed_mm) <= 0:
            raise ValueError(f"{self.key}: a bed of {self.bed_mm} holds nothing")
        turns = self.kind == "router"
        if turns and not 0 < self.spindle_min_rpm <= self.spindle_max_rpm:
            raise ValueError(f"{self.key}: spindle range is empty")
        if not turns and (self.spindle_min_rpm or self.spindle_max_rpm):
            raise ValueError(f"{self.key}: a beam has 'power_full' in place of spindle speeds")
        if turns and self.power_full:
            raise ValueError(f"{self.key}: 'power_full' is for a beam, not for a router")
        if not turns:
            require_positive(self, ("power_full",))
        if not 1 <= self.look_ahead_moves <= 10_000:
            raise ValueError(f"{self.key}: a look-ahead of 1 to 10000 moves")
        if not 3 <= self.decimals <= 6:
            raise ValueError(f"{self.key}: 3 to 6 decimals, not {self.decimals}")
        check_habits(self)
