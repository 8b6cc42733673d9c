"""Metrics: Prometheus text, read back by the parser that belongs to it."""

from prometheus_client.parser import text_string_to_metric_families

from letterply.api.http.metrics import Metrics


def samples(metrics):
    return {
        (s.name, tuple(sorted(s.labels.items()))): s.value
        for family in text_string_to_metric_families(metrics.text())
        for s in family.samples
    }


def test_counters_are_told_apart_by_their_labels():
    metrics = Metrics()
    odd = 'odd "one"\n'
    for outcome in ("done", "done", odd):
        metrics.count("jobs_total", "Jobs.", kind="stack", outcome=outcome)
    assert samples(metrics) == {
        ("jobs_total", (("kind", "stack"), ("outcome", "done"))): 2,
        ("jobs_total", (("kind", "stack"), ("outcome", odd))): 1,
    }


def test_buckets_of_a_histogram_add_up():
    metrics = Metrics()
    for seconds in (0.02, 0.3, 500.0):
        metrics.observe("wait_seconds", "Wait.", seconds)
    found = samples(metrics)
    bucket = {dict(labels)["le"]: v for (n, labels), v in found.items() if n.endswith("_bucket")}
    assert [bucket[e] for e in ("0.01", "0.05", "0.5", "120.0", "+Inf")] == [0, 1, 2, 2, 3]
    assert found["wait_seconds_count", ()] == 3
    assert found["wait_seconds_sum", ()] == 500.32


def test_gauges_are_read_when_asked_and_apps_do_not_count_for_each_other():
    metrics, other, depth = Metrics(), Metrics(), [1]
    for _ in range(2):  # an app that is started again
        metrics.watch("depth", "Depth.", lambda: depth[0])
    depth[0] = 7
    assert samples(metrics) == {("depth", ()): 7}
    assert samples(other) == {}
