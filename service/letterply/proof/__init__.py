"""Program text in, verdict out: an independent reading that never sees the plan."""

from letterply.proof.model import (
    Fault,
    HeightField,
    PartVerdict,
    ProgramReading,
    ProgramSource,
    SheetProof,
)
from letterply.proof.verdict import faults_as_findings, prove_sheet

__all__ = [
    "Fault",
    "HeightField",
    "PartVerdict",
    "ProgramReading",
    "ProgramSource",
    "SheetProof",
    "faults_as_findings",
    "prove_sheet",
]
