"""The shop's lists of jobs and the page a new one begins at: nothing in them is lost, made twice, or waited for."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import expect
from sqlalchemy import insert
from tests.conftest import WITHOUT_TUNNELS

from scribeline.job import parse_job, set_value
from scribeline.plan import plan
from scribeline.scenario import demo_jobs
from scribeline.store import Store, open_store, tables
from scribeline.web.app import create_app
from scribeline.web.planning import Planner
from scribeline.web.shop import Shop

from .conftest import PATIENCE, Screens, ask, go, plain_job, serious, serving
from .test_app_hostile import answer_of

OTHER = demo_jobs()["marram-too-thin.toml"]


HALF = 'scribeline = 1\nname = "Half \\u202e typed"\n'


class Desk:
    """The app in this process, and the shop's own PC before it."""

    def __init__(self, folder: Path) -> None:
        self.store: Store = open_store(folder / "shop.db")
        self.shop = Shop(self.store, folder)
        self.app = create_app(self.shop)

    def ask(self, method: str, path: str, **rest: Any) -> httpx.Response:
        async def once() -> httpx.Response:
            transport = httpx.ASGITransport(self.app, client=("127.0.0.1", 4711))
            async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
                return await client.request(method, path, **rest)

        return answer_of(once())

    def page(self, path: str) -> str:
        answer = self.ask("GET", path)
        assert answer.status_code == 200, (path, answer.status_code)
        return unescape(answer.text)

    def sent(self, path: str, **fields: str) -> str:
        """Where a form leads to."""
        answer = self.ask("POST", path, data=fields)
        assert answer.status_code == 303, answer.text
        return answer.headers["location"]

    def make(self, name: str, text: str = WITHOUT_TUNNELS) -> int:
        return self.store.create(set_value(text, "name", name)[0], by="Ann").job_id


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = Desk(tmp_path)
    yield made
    made.store.close()


def names(page: str) -> list[str]:
    return re.findall(r'class="whole"[^>]*><bdi>(.*?)</bdi>', page)


def until(holds: Callable[[], bool]) -> None:
    deadline = time.monotonic() + PATIENCE / 1000
    while not holds():
        assert time.monotonic() < deadline
        time.sleep(0.05)


def test_a_thousand_jobs_are_listed_and_found_and_none_is_planned(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: Any, **__: Any) -> None:
        message = "a list planned a job"
        raise AssertionError(message)

    for name in ("plan", "now", "settled", "job"):
        monkeypatch.setattr(Planner, name, never)
    at = "2026-11-01T10:00:00+00:00"
    jobs = [
        {"name": f"Täst {n}", "units": "mm", "handed": "right", "newest": 1, "at": at, "by": "Ann"}
        for n in range(1, 1001)
    ]
    rows = [
        {"job_id": n, "number": 1, "text": "n = 1", "at": at, "by": "Ann", "why": "", "kind": "edit"}
        for n in range(1, 1001)
    ]
    with desk.store._engine.begin() as connection:
        connection.execute(insert(tables.jobs), jobs)
        connection.execute(insert(tables.revisions), rows)
    page = desk.page("/")
    assert names(page) == [f"Täst {n}" for n in range(1000, 960, -1)]
    assert "1 to 40 of 1000" in page
    assert (
        page.count('hx-trigger="intersect once"') == 40
    )  # those that somebody sees are worked out, and no others
    assert (
        names(desk.page("/?page=25"))
        == names(desk.page("/?page=99999"))
        == [f"Täst {n}" for n in range(40, 0, -1)]
    )
    assert names(desk.page("/?page=-3")) == names(page)
    assert names(desk.page("/?find=TAST+777")) == ["Täst 777"]  # without its accent, in capitals
    assert sorted(names(desk.page("/?find=99+tä"))) == sorted(  # every word somewhere in the name
        f"Täst {n}" for n in (99, 199, 299, 399, 499, 599, 699, 799, 899, *range(990, 1000))
    )
    assert names(desk.page("/?find=1000")) == ["Täst 1000"]
    assert "0 jobs with “<bdi>zz</bdi>”" in desk.page("/?find=zz")
    assert desk.ask("GET", "/?find=" + "x" * 3000).status_code == 200
    hostile = desk.ask("GET", "/", params={"find": "<script>\u202e"}).text
    assert "<script>\u202e" not in hostile
    assert "&lt;script&gt;" in hostile
    assert len(desk.ask("GET", "/api/jobs").json()) == 1000


def test_a_job_is_put_away_and_brought_back(desk: Desk) -> None:
    first, second = desk.make("Plover"), desk.make("Plover")  # one name twice: the number tells them apart
    desk.store.tick(first, "check-body", by="Ann", revision=1)
    kept = desk.store.export(first, with_record=True)
    assert desk.sent(f"/jobs/{first}/archive", back="/?find=plover") == f"/?find=plover&moved={first}"
    page = desk.page(f"/?moved={first}")
    assert f"(job {first}) is archived" in page
    assert f'action="/jobs/{first}/unarchive"' in page
    assert names(page) == ["Plover"]
    assert f"Job {second}," in page
    assert "Archived 1" in page
    assert names(desk.page("/archived")) == ["Plover"]
    assert desk.ask("GET", f"/jobs/{first}/steps").status_code == 200  # it can be worked on

    for _ in range(2):  # a double click
        assert desk.sent(f"/jobs/{first}/delete", back="/archived") == f"/archived?moved={first}"
    deleted = desk.page("/deleted")
    assert names(deleted) == ["Plover"]
    assert "by <bdi>the shop's PC" in deleted
    assert "kept for good" in deleted
    assert names(desk.page("/archived")) == []
    for method, path in (
        ("GET", ""),
        ("GET", "/plan"),
        ("POST", "/undo"),
        ("GET", "/job.toml"),
        ("GET", "/copy"),
    ):
        answer = desk.ask(
            method, f"/jobs/{first}{path}", data={"based_on": "1"} if method == "POST" else None
        )
        assert answer.status_code == 404, path
        assert "This job was deleted" in answer.text
        assert f'action="/jobs/{first}/restore"' in answer.text
        assert ("was not taken" in answer.text) == (method == "POST")

    # The JSON side says the same.
    assert [each["id"] for each in desk.ask("GET", "/api/jobs").json()] == [second]
    (told,) = desk.ask("GET", "/api/jobs?list=deleted").json()
    assert (told["id"], told["list"], told["deleted"]["by"]) == (first, "deleted", told["archived"]["by"])
    assert len(desk.ask("GET", "/api/jobs?list=every").json()) == 2
    refused = desk.ask("POST", f"/api/jobs/{first}/revisions", json={"text": "a = 1", "based_on": 1})
    assert refused.status_code == 404
    assert "restore it to go on" in refused.json()["detail"]
    assert desk.ask("POST", f"/api/jobs/{first}/archive").status_code == 422

    assert desk.sent(f"/jobs/{first}/restore") == f"/jobs/{first}"
    assert desk.store.export(first, with_record=True) == kept
    assert desk.sent(f"/jobs/{first}/unarchive", back="/archived") == f"/archived?moved={first}"
    assert names(desk.page("/")) == ["Plover", "Plover"]
    assert desk.ask("DELETE", f"/api/jobs/{second}").json()["list"] == "deleted"
    assert desk.ask("POST", f"/api/jobs/{second}/restore").json()["list"] == "open"
    for back in (
        "//evil.example/",
        "https://evil.example/",
        "/jobs/1/plan",
        "/shop",
        "x" * 4000,
        "/?page=x&find=",
    ):
        where = desk.sent(f"/jobs/{first}/archive", back=back)
        assert where == f"/?moved={first}", back
    for number in (99, -1, 10**20, -(10**20)):
        assert desk.ask("POST", f"/jobs/{number}/delete").status_code == 404
        for page in ("glance", "picture", "copy", "rename"):
            assert desk.ask("GET", f"/jobs/{number}/{page}").status_code == 404
        assert desk.ask("GET", f"/?moved={number}&page={number}").status_code == 200


def test_what_makes_a_job_makes_one_however_often_it_is_sent(desk: Desk) -> None:
    of = desk.make("Plover 7")
    form = desk.page(f"/jobs/{of}/copy")
    assert 'value="Plover 2"' in form  # no other job has it
    assert "no step done and no reading" in form
    (key,) = re.findall(r'name="once" value="(\w+)"', form)
    copies = {desk.sent(f"/jobs/{of}/copy", name="Plover 2", once=key) for _ in range(3)}
    assert len(copies) == 1
    # Gone back to and filled in otherwise, it is another one.
    copies.add(desk.sent(f"/jobs/{of}/copy", name="Plover 3", once=key))
    assert len(copies) == 2
    assert 'value="Plover 4"' in desk.page(f"/jobs/{of}/copy")

    def twice(path: str, **fields: str) -> None:
        before = desk.store.counts()["open"]
        assert desk.sent(path, once="k", **fields) == desk.sent(path, once="k", **fields)
        assert desk.store.counts()["open"] == before + 1, path

    twice("/demo")
    twice("/start", name="Shingle")
    twice(
        "/start/like",
        name="Thrift",
        like=next(iter(re.findall(r'name="like" value="([\w-]+)"', desk.page("/start/like")))),
    )
    file = {"file": ("a.toml", WITHOUT_TUNNELS.encode())}
    both = [desk.ask("POST", "/import", data={"once": "k"}, files=file).headers["location"] for _ in range(2)]
    assert both[0] == both[1]
    desk.sent(f"{both[0].removesuffix('/plan')}/delete")
    assert "This job was deleted" in desk.ask("POST", "/import", data={"once": "k"}, files=file).text
    wrong = desk.ask("POST", "/import", files={"file": ("a.toml", b"name = no")})
    assert wrong.status_code == 422
    assert "That file was not taken" in wrong.text


@pytest.mark.parametrize("path", ["copy", "rename"])
def test_a_name_that_is_none_is_refused_with_what_was_typed(desk: Desk, path: str) -> None:
    job = desk.make("Plover")
    for name, words in (("x" * 300, "300 characters; 60 is the most"), (" \u202e ", "is empty")):
        answer = desk.ask("POST", f"/jobs/{job}/{path}", data={"name": name})
        assert answer.status_code == 422
        assert words in answer.text
        assert f'value="{name}"' in answer.text
    turned = '\u202eold \u05d0\u05d1 <b>\u2069 & "new"'
    where = desk.sent(f"/jobs/{job}/{path}", name=turned)
    assert names(desk.page("/"))[0] == 'old \u05d0\u05d1 <b> & "new"'
    assert (
        parse_job(desk.store.revision(desk.store.jobs()[0].id).text).job.document.name
        == 'old \u05d0\u05d1 <b> & "new"'
    )
    assert where in {"/", f"/jobs/{job + 1}/plan"}


def test_a_job_that_cannot_be_read_breaks_no_list(desk: Desk) -> None:
    sound, half = desk.make("Plover"), desk.store.create(HALF, by="Ann").job_id
    assert names(desk.page("/")) == ["Half typed", "Plover"]
    assert desk.ask("GET", f"/jobs/{half}/glance").status_code == 200
    until(lambda: desk.store.entry(half).glance is not None)
    page = desk.page("/")
    assert "cannot be read" in page
    assert f'href="/jobs/{half}/text">Mend it' in page
    assert f'href="/jobs/{half}/next"' not in page
    assert f'href="/jobs/{sound}/next"' in page
    assert "cannot be seen" in desk.page(f"/jobs/{half}/text")
    assert desk.ask("GET", f"/jobs/{half}/job.toml").text == desk.store.revision(half).text
    copy = desk.sent(f"/jobs/{half}/copy", name="Half 2")
    assert desk.ask("GET", copy).status_code == 200
    desk.sent(f"/jobs/{half}/delete")
    desk.sent(f"/jobs/{half}/restore")
    assert desk.store.revision(half).text == HALF


def test_what_was_worked_out_for_a_page_stands_in_the_list(desk: Desk) -> None:
    job = desk.make("Plover", set_value(OTHER, "name", "x")[0])

    def fresh() -> bool:
        now = desk.store.entry(job)
        return now.glance is not None and now.glance.changes == now.changes

    assert "Not worked out yet" in desk.page("/")
    assert desk.ask("GET", f"/jobs/{job}/picture").status_code == 404
    desk.page(f"/jobs/{job}/plan")
    until(fresh)
    planned = plan(*parse_job(desk.store.revision(job).text))
    assert len(planned.stops) == 1
    page = desk.page("/")
    assert f"0 of {len(planned.cards)}</b> steps done" in page
    assert f"Next: {planned.cards[0].title}" in page
    assert "1 DO NOT CUT" in page
    (address,) = re.findall(rf'src="(/jobs/{job}/picture[^"]*)"', page)
    picture = desk.ask("GET", address)
    assert picture.headers["content-type"] == "image/svg+xml"
    assert "immutable" in picture.headers["cache-control"]
    assert picture.text.startswith("<svg")
    # A step done makes it older; who looks at the list has it worked out again.
    desk.store.tick(job, planned.cards[0].id, by="Ann", revision=1)
    page = desk.page("/")
    assert "before the last change" in page
    assert f'hx-get="/jobs/{job}/glance"' in page
    assert 'hx-trigger="load delay:2s"' in desk.page(f"/jobs/{job}/glance")
    until(fresh)
    told = desk.page(f"/jobs/{job}/glance")
    assert f"1 of {len(planned.cards)}</b> steps done" in told
    assert "hx-trigger" not in told
    # To put it away is no change of it. Deleted before its turn, it is passed over.
    desk.sent(f"/jobs/{job}/archive")
    assert fresh()
    desk.store.rename(job, "Another", by="Ann")
    desk.shop.glances.want(job)
    desk.sent(f"/jobs/{job}/delete")
    other = desk.make("Other")
    desk.shop.glances.want(other)
    until(lambda: desk.store.entry(other).glance is not None)
    assert f"1 of {len(planned.cards)}</b> steps done" in desk.page("/deleted")


def test_a_shop_lives_with_its_jobs_by_touch(tmp_path: Path, screens: Screens) -> None:
    with serving(tmp_path) as app:
        page = screens("tablet across", has_touch=True)
        page.goto(app.address)
        expect(page.locator(".begin svg")).to_be_visible()
        assert not serious(page)
        for words, heading in (("Measure my parts",) * 2, ("Start like one of these",) * 2):
            go(page, f".way:has-text('{words}')")
            expect(page.locator("h1")).to_have_text(heading)
            assert not serious(page)
            page.go_back()
        brought = tmp_path / "plover.toml"
        brought.write_text(set_value(WITHOUT_TUNNELS, "name", "Plover")[0])
        page.set_input_files("#file", brought)
        page.wait_for_url("**/jobs/1/plan*")

        job = plain_job(app, set_value(WITHOUT_TUNNELS, "name", "Thrift")[0])
        page.goto(app.address)
        cards = page.locator(".list.jobs > li")
        expect(cards).to_have_count(2)
        expect(cards.locator("img.thumb")).to_have_count(2)  # what is seen is worked out
        expect(cards.first).to_contain_text("steps done")
        page.wait_for_function("[...document.images].every(each => each.complete && each.naturalWidth > 0)")
        page.fill("#find", "PLO")
        expect(cards).to_have_count(1)
        expect(page.locator("#find")).to_be_focused()
        assert page.url.endswith("find=PLO")
        assert not serious(page)

        page.tap("summary")
        go(page, "a:has-text('Copy')")
        expect(page.locator("#name")).to_have_value("Plover 2")
        assert not serious(page)
        page.evaluate(  # a double tap
            "document.querySelector('main form').addEventListener('submit', e => fetch(e.target.action || location.href, "
            "{method: 'POST', body: new URLSearchParams(new FormData(e.target))}))"
        )
        go(page, "button:has-text('Make the copy')")
        page.wait_for_url("**/jobs/3/plan*")
        assert ask(f"{app.address}/jobs/3", "GET", "/ticks") == (200, [])

        # Another device stands at a step of the job that is deleted here.
        press = screens("tablet", has_touch=True)
        press.goto(f"{job}/steps/check-body")
        expect(press.locator("html[data-hears=yes]")).to_have_count(1)
        press.locator("#reading").first.fill("44.1")
        page.goto(app.address)
        expect(cards).to_have_count(3)
        thrift = cards.filter(has_text="Thrift")
        thrift.locator("summary").tap()
        assert not serious(page)
        thrift.locator("button:has-text('Delete')").tap()
        expect(page.locator(".moved")).to_contain_text("Thrift (job 2) is deleted")
        expect(cards).to_have_count(2)
        expect(press.locator("h1:visible")).to_have_text("This job was deleted")
        expect(press.locator("#reading").first).to_be_hidden()
        assert not serious(press)
        page.tap(".moved >> text=Undo")
        expect(cards).to_have_count(3)
        # It is as it was there, with what was typed.
        expect(press.locator("#reading").first).to_be_visible()
        expect(press.locator("#reading").first).to_have_value("44.1")

        thrift.locator("summary").tap()
        thrift.locator("button:has-text('Delete')").tap()
        expect(press.locator("#deleted")).to_be_visible()
        expect(page.locator(".moved")).to_contain_text("Thrift (job 2) is deleted")
        page.go_back()  # the list as it was, where the job still stands
        page.goto(f"{job}/plan")
        expect(page.locator("h1")).to_have_text("This job was deleted")
        assert not serious(page)
        go(page, "text=Your jobs")
        go(page, "a:has-text('Deleted 1')")
        assert not serious(page)
        page.tap("button:has-text('Restore')")
        expect(page.locator(".list.jobs > li")).to_have_count(0)
        go(page, "a:has-text('At work 3')")
        thrift.locator("summary").tap()
        thrift.locator("button:has-text('Archive')").tap()
        expect(page.locator(".moved")).to_contain_text("Thrift (job 2) is archived")
        go(page, "a:has-text('Archived 1')")
        expect(cards).to_have_count(1)

        plain = screens("tablet", java_script_enabled=False)
        plain.goto(app.address)
        plain.fill("#find", "plover 2")
        plain.click("text=Find >> nth=-1")
        expect(plain.locator(".list.jobs > li")).to_have_count(1)
        expect(plain.locator("img.thumb")).to_have_count(1)
        assert [each for each in screens.said if "404" not in each] == []


def test_a_job_file_of_a_deleted_job_is_brought_in_anew(tmp_path: Path) -> None:
    """`serve --job FILE` opens the job that the file became; an archived one as it stands, a deleted one not."""
    from scribeline.web.serve import STORE, job_in

    file = tmp_path / "marram.toml"
    file.write_text(WITHOUT_TUNNELS)
    first = job_in(tmp_path / "shop", file)
    with open_store(tmp_path / "shop" / STORE) as store:
        store.archive(first, by="Ann")
    assert job_in(tmp_path / "shop", file) == first
    with open_store(tmp_path / "shop" / STORE) as store:
        store.delete(first, by="Ann")
    assert job_in(tmp_path / "shop", file) == first + 1


def test_what_another_screen_does_shows_on_every_open_list(tmp_path: Path, screens: Screens) -> None:
    """Begun, renamed, ticked, put away and brought back elsewhere: each list and the job's own pages say so unasked."""
    with serving(tmp_path) as app:
        lists = {place: screens() for place in ("/", "/archived", "/deleted")}
        for place, page in lists.items():
            page.goto(app.address + place)
        at_work, away, gone = lists.values()
        expect(at_work.locator(".begin")).to_be_visible()  # no job yet: how to begin stands there

        job = plain_job(app, set_value(WITHOUT_TUNNELS, "name", "Plover")[0])
        api = job.replace("/jobs/", "/api/jobs/")
        other = plain_job(app, set_value(WITHOUT_TUNNELS, "name", "Thrift")[0])
        row = at_work.locator("#job-1")
        expect(row).to_contain_text("Plover")
        expect(at_work.locator(".list.jobs > li")).to_have_count(2)
        expect(at_work.locator("h1")).to_have_text("Jobs")
        expect(row).to_contain_text("0 of")
        # What is typed and folded out stays while the list changes under it.
        row.locator("summary").click()
        at_work.locator("#find").focus()
        office = at_work.request
        assert office.post(f"{job}/rename", form={"name": "Lapwing"}).ok
        expect(row).to_contain_text("Lapwing")
        expect(row.locator("details[open]")).to_have_count(1)
        expect(at_work.locator("details[open]")).to_have_count(1)
        expect(at_work.locator("#find")).to_be_focused()
        assert ask(job, "PUT", "/ticks/check-body", {"revision": 2})[0] == 200
        expect(row).to_contain_text("1 of")
        expect(row).not_to_contain_text("before the last change")

        # Its own pages say that it is put away, with the way back, wherever they are open; what is typed stays.
        own, step = screens(), screens("tablet", has_touch=True)
        own.goto(f"{job}/parts/neck")
        step.goto(f"{job}/steps/check-body")
        expect(step.locator("html[data-hears=yes]")).to_have_count(1)
        assert office.post(f"{api}/archive").ok
        for page in (own, step):
            expect(page.locator("#put-away")).to_contain_text("This job is archived")
            assert not serious(page)
        expect(at_work.locator(".list.jobs > li")).to_have_count(1)
        expect(at_work.locator("#lists")).to_contain_text("At work 1")
        expect(away.locator(".list.jobs > li")).to_contain_text("Lapwing")
        expect(gone.locator("#lists")).to_contain_text("Archived 1")
        own.click("#put-away >> text=Bring it back")
        expect(own.locator("#put-away")).to_be_empty()
        assert own.url == f"{job}/parts/neck"
        expect(step.locator("#put-away")).to_be_empty()
        expect(away.locator(".list.jobs > li")).to_have_count(0)
        expect(at_work.locator(".list.jobs > li")).to_have_count(2)

        own.locator("#i-neck-pocket-depth").fill("15.5")
        assert office.delete(api).ok
        expect(own.locator("h1:visible")).to_have_text("This job was deleted")
        expect(own.locator("#i-neck-pocket-depth")).to_be_hidden()
        expect(gone.locator(".list.jobs > li")).to_contain_text("Lapwing")
        assert not serious(own)
        assert office.post(f"{api}/restore").ok
        expect(own.locator("#i-neck-pocket-depth")).to_be_visible()
        expect(own.locator("#i-neck-pocket-depth")).to_have_value("15.5")
        expect(gone.locator(".list.jobs > li")).to_have_count(0)

        assert office.delete(api).ok
        assert office.delete(other.replace("/jobs/", "/api/jobs/")).ok
        expect(at_work.locator(".begin")).to_be_visible()  # none is left
        assert [each for each in screens.said if "404" not in each] == []
