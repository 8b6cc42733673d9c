"""The eight jobs through the command line, from an empty folder of data; for a look.

    python tests/reference/jobs/run.py FOLDER

What is made stays in FOLDER, one folder a job, with what the command said in `said.txt`. It takes
several minutes; which jobs are wanted may be named after the folder. Ends with 1 if one is not as
it should be.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[2])]
from jobs import HERE, JOBS, Job  # noqa: E402
from read_units import STRAY, read_in  # noqa: E402

COMMAND = (sys.executable, "-c", "import sys; from letterply_client.command import main; "
           "sys.exit(main())")  # fmt: skip


def main(folder: Path, wanted: list[str]) -> int:
    """Run the jobs; return how the script ends."""
    folder.mkdir(parents=True, exist_ok=True)
    data = folder / "data"
    environment = {**os.environ, "LETTERPLY_DATA_FOLDER": str(data.resolve())}
    said = _run(("shop", "put", "boathouse.toml"), environment)
    print(said.stdout, said.stderr)
    wrong = said.returncode
    for job in JOBS:
        if wanted and job.name not in wanted:
            continue
        out = folder.resolve() / job.name
        done = _run((*job.words, "-o", str(out)), environment)
        faults = faults_of(job, out, done)
        out.mkdir(exist_ok=True)
        (out / "said.txt").write_text(f"{done.stdout}\n{done.stderr}")
        print(f"{job.name:14} {'as it should be' if not faults else '; '.join(faults)}", flush=True)
        wrong += bool(faults)
    return min(wrong, 1)


def faults_of(job: Job, out: Path, done: subprocess.CompletedProcess[str]) -> list[str]:
    """Return what is wrong with what a job made."""
    found = []
    if done.returncode:
        found.append(f"ended with {done.returncode}: {(done.stdout + done.stderr).strip()[-300:]}")
    programs = list(out.glob("programs/*"))
    if len(programs) < job.programs:
        found.append(f"{len(programs)} programs, not {job.programs}")
    texts = {"what the command said": [done.stdout]}
    for path in sorted(p for p in out.rglob("*") if p.is_file()):
        name = path.relative_to(out).as_posix()
        texts[name] = read_in(name, path.read_bytes())
    everything = "\n".join(line for lines in texts.values() for line in lines)
    found += [f"no paper says {s!r}" for s in job.says if s not in everything]
    for name, lines in texts.items():
        stray = [line for line in lines if STRAY["inch"].search(line)]
        if stray:
            found.append(f"{name} speaks of millimetres: {stray[0].strip()[:120]!r}")
    return found


def _run(words: tuple[str, ...], environment: dict[str, str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*COMMAND, *words], cwd=HERE, env=environment, capture_output=True, text=True, check=False
    )


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2:]))
