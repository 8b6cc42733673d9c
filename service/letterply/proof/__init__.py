"""An independent reading of programs.

In: the text of programs, a sheet with its parts, machine and cutters; never a plan. Out: what is
left of the sheet, and a verdict with every fault and its place.
"""

from letterply.proof.model import (
    Fault,
    HeightField,
    Motion,
    PartVerdict,
    ProgramReading,
    ProgramSource,
    Setup,
    SheetProof,
)
from letterply.proof.verdict import faults_as_findings, prove_sheet

__all__ = [
    "Fault",
    "HeightField",
    "Motion",
    "PartVerdict",
    "ProgramReading",
    "ProgramSource",
    "Setup",
    "SheetProof",
    "faults_as_findings",
    "prove_sheet",
]
