"""Metrics: Prometheus text, format 0.0.4."""

from letterply.api.http.metrics import Metrics


def test_counters_are_written_with_their_labels():
    metrics = Metrics()
    for outcome in ("done", "done", 'odd "one"\n'):
        metrics.count("jobs_total", "Jobs.", kind="stack", outcome=outcome)
    assert metrics.text().splitlines() == [
        "# HELP jobs_total Jobs.",
        "# TYPE jobs_total counter",
        'jobs_total{kind="stack",outcome="done"} 2',
        'jobs_total{kind="stack",outcome="odd \\"one\\"\\n"} 1',
    ]


def test_buckets_of_a_histogram_add_up():
    metrics = Metrics()
    for seconds in (0.02, 0.3, 500.0):
        metrics.observe("wait_seconds", "Wait.", seconds)
    lines = dict(line.rsplit(" ", 1) for line in metrics.text().splitlines()[2:])
    assert lines['wait_seconds_bucket{le="0.01"}'] == "0"
    assert lines['wait_seconds_bucket{le="0.05"}'] == "1"
    assert lines['wait_seconds_bucket{le="0.5"}'] == "2"
    assert lines['wait_seconds_bucket{le="120"}'] == "2"
    assert lines['wait_seconds_bucket{le="+Inf"}'] == lines["wait_seconds_count"] == "3"
    assert float(lines["wait_seconds_sum"]) == 500.32
    counts = [int(v) for k, v in lines.items() if "_bucket" in k]
    assert counts == sorted(counts)


def test_gauges_are_read_when_asked():
    metrics, depth = Metrics(), [1]
    metrics.watch("depth", "Depth.", lambda: depth[0])
    depth[0] = 7
    assert metrics.text().endswith("# TYPE depth gauge\ndepth 7\n")
