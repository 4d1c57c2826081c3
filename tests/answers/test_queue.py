"""The job queue: turns between owners, what fails, what is stopped, what is left behind."""

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from fairsmoke.answers import queue as queueing
from fairsmoke.answers import tasks
from fairsmoke.answers.queue import AT_ONCE, MOST_WAITING, Job, JobQueue, JobStage
from fairsmoke.messages.errors import InputError


class Stand:
    """Stands in for child processes: a job runs until it is let go."""

    def __init__(self) -> None:
        self.running: list[Job] = []
        self.order: list[str] = []
        self.most: dict[str, int] = {}
        self._lock = threading.Lock()
        self._go = threading.Condition(self._lock)
        self._free = 0

    def __call__(self, _: JobQueue, job: Job) -> JobStage:
        with self._go:
            self.running.append(job)
            self.order.append(job.key)
            here = sum(one.queue == job.queue for one in self.running)
            self.most[job.queue] = max(here, self.most.get(job.queue, 0))
            self._go.notify_all()
            while self._free == 0:
                self._go.wait(10.0)
            self._free -= 1
            self.running.remove(job)
        return JobStage.DONE

    def let_go(self, many: int) -> None:
        with self._go:
            self._free += many
            self._go.notify_all()

    def wait_for(self, keys: set[str]) -> None:
        with self._go:
            assert self._go.wait_for(lambda: {one.key for one in self.running} == keys, 10.0), [
                one.key for one in self.running
            ]


@pytest.fixture
def stand(monkeypatch: pytest.MonkeyPatch) -> Stand:
    found = Stand()
    monkeypatch.setattr(JobQueue, "_run", lambda self, job: found(self, job))
    return found


@pytest.fixture
def jobs(tmp_path: Path) -> Iterator[JobQueue]:
    made = JobQueue(tmp_path / "none.db", tmp_path)
    yield made
    made.close()


def test_many_days_of_a_helper_hold_up_neither_a_cook_nor_pages(
    jobs: JobQueue, stand: Stand
) -> None:
    helper, cook = jobs.for_owner("helper"), jobs.for_owner("cook")
    days = [helper.submit(f"helper-{n}", "when", {}) for n in range(MOST_WAITING + 1)]
    stand.wait_for({"helper-0"})
    with pytest.raises(InputError, match="Too much") as refused:
        helper.submit("one-more", "when", {})
    assert refused.value.kind == "busy"
    own = cook.submit("cook-0", "when", {})
    look = cook.submit("look", "look-at-plan", {})
    stand.wait_for({"helper-0", "cook-0", "look"})
    stand.let_go(len(days) + 2)
    assert own.ended.wait(10.0)
    assert look.ended.wait(10.0)
    assert all(one.ended.wait(10.0) for one in days)
    assert all(one.stage is JobStage.DONE for one in days)


def test_owners_take_turns(jobs: JobQueue, stand: Stand) -> None:
    first, second, third = (jobs.for_owner(one) for one in "abc")
    for number in range(4):
        first.submit(f"a{number}", "when", {})
    stand.wait_for({"a0"})
    all_jobs = [second.submit(f"b{n}", "when", {}) for n in range(2)]
    all_jobs += [third.submit(f"c{n}", "when", {}) for n in range(2)]
    stand.wait_for({"a0", "b0"})
    stand.let_go(8)
    assert all(one.ended.wait(10.0) for one in all_jobs)
    while (last := jobs.find("a3")) is not None and last.going:
        time.sleep(0.01)
    # However they are let go, the third waits for no second turn of the first.
    assert stand.order.index("c0") < stand.order.index("a2")
    assert stand.order.index("b1") < stand.order.index("a3")
    assert stand.most == {tasks.SIMULATIONS: AT_ONCE}


def test_the_same_key_runs_once_at_a_time_and_again_when_asked(
    jobs: JobQueue, stand: Stand
) -> None:
    job = jobs.submit("one", "when", {})
    assert jobs.for_owner("cook").submit("one", "when", {}) is job
    stand.let_go(1)
    assert job.ended.wait(10.0)
    assert jobs.find("one") is job
    again = jobs.submit("one", "when", {})
    assert again is not job
    stand.let_go(1)
    assert again.ended.wait(10.0)
    assert stand.order == ["one", "one"]


def test_what_waits_is_stopped_at_once(jobs: JobQueue, stand: Stand) -> None:
    jobs.submit("runs", "when", {})
    waits = jobs.submit("waits", "when", {})
    stand.wait_for({"runs"})
    jobs.stop("waits")
    assert waits.ended.wait(0.0)
    assert waits.stage is JobStage.STOPPED
    jobs.stop("nothing of that name")
    stand.let_go(1)
    last = jobs.submit("last", "when", {})
    stand.let_go(1)
    assert last.ended.wait(10.0)
    assert stand.order == ["runs", "last"]


def test_closing_stops_what_waits_and_takes_nothing_more(jobs: JobQueue, stand: Stand) -> None:
    running = jobs.submit("runs", "when", {})
    waits = jobs.submit("waits", "when", {})
    stand.wait_for({"runs"})
    stand.let_go(1)
    jobs.close()
    assert running.stage is JobStage.DONE
    assert waits.stage in (JobStage.STOPPED, JobStage.DONE)
    with pytest.raises(InputError, match="Too much"):
        jobs.submit("late", "when", {})


def test_a_job_whose_result_cannot_be_taken_in_has_failed(jobs: JobQueue, stand: Stand) -> None:
    def broken(_: Job) -> None:
        raise RuntimeError("broken")

    job = jobs.submit("one", "when", {}, when_done=broken)
    stand.let_go(1)
    assert job.ended.wait(10.0)
    assert job.stage is JobStage.FAILED
    after = jobs.submit("two", "when", {})
    stand.let_go(1)
    assert after.ended.wait(10.0)
    assert after.stage is JobStage.DONE


def test_old_jobs_are_forgotten_and_none_that_goes(
    jobs: JobQueue, stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(queueing, "_REMEMBERED", 3)
    stand.let_go(10)
    for number in range(10):
        assert jobs.submit(str(number), "when", {}).ended.wait(10.0)
    going = jobs.submit("going", "when", {})
    assert jobs.find("going") is going
    assert jobs.find("0") is None
    assert jobs.find("9") is not None
    stand.let_go(1)


def test_every_task_is_there_and_has_a_queue() -> None:
    from importlib import import_module

    for kind, (queue, place) in tasks.TASKS.items():
        module, _, name = place.partition(":")
        assert callable(getattr(import_module(module), name)), kind
        assert tasks.queue_of(kind) == queue
    with pytest.raises(KeyError):
        tasks.queue_of("no such task")


def test_a_child_says_what_is_wrong_as_a_message(tmp_path: Path) -> None:
    from fairsmoke.notebook import Notebook
    from fairsmoke.trial.kitchen import Kitchen

    with Notebook.create(tmp_path / "book.db", Kitchen(name="Hall")) as book:
        jobs = JobQueue(book.path, tmp_path / "results")
        job = jobs.submit("one", "look-at-plan", {"trial": "nowhere"})
        assert job.ended.wait(60.0)
        jobs.close()
    assert job.stage is JobStage.FAILED
    assert "nowhere" in str(job.problem)
