"""A phone that trusts the kitchen's own authority: the app opens without a connection.

Chromium is given the root as a person gives it: in its store of certificates (NSS), in a home of
its own. No check is switched off.
"""

import contextlib
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Playwright, expect
from tests.app.clients import DATA, TRIAL
from tests.app.server import Server
from tests.browser.axe import violations
from tests.browser.conftest import FLAGS, PHONE

from fairsmoke.app.serving import bound
from fairsmoke.app.settings import Settings
from fairsmoke.app.tls.authority import authority_in
from fairsmoke.app.tls.own import OwnTls, steps_beside
from fairsmoke.notebook.folder.transfer import notebook_of_folder


@pytest.fixture
def tls(tmp_path: Path) -> Iterator[Server]:
    path = tmp_path / "live.db"
    notebook_of_folder(path, DATA).close()
    running = Server(path, tmp_path / "own").start()
    yield running
    running.close()


def phone_that_trusts(playwright: Playwright, home: Path, root: bytes | None) -> Browser:
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    certutil = shutil.which("certutil")
    if certutil is None:
        pytest.fail("there is no certutil; run scripts/system-tools.sh")
    database = ["-d", f"sql:{store}"]
    subprocess.run([certutil, *database, "-N", "--empty-password"], check=True)
    if root is not None:
        command = [certutil, *database, "-A", "-n", "kitchen", "-t", "C,,"]
        subprocess.run(command, input=root, check=True)
    return playwright.chromium.launch(
        executable_path=shutil.which("chromium"), args=FLAGS, env={"HOME": str(home)}
    )


def test_the_app_opens_offline_over_our_own_tls(
    playwright: Playwright, tls: Server, tmp_path: Path
) -> None:
    root = authority_in(tmp_path / "own", (), "").root_pem
    browser = phone_that_trusts(playwright, tmp_path / "home", root)
    context = browser.new_context(viewport=PHONE, base_url=tls.address)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(tls.link)
    page.get_by_role("button").click()
    page.wait_for_url(tls.address + "/")
    assert page.evaluate("isSecureContext && location.protocol") == "https:"
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.goto(f"/trials/{TRIAL}")
    page.close()
    tls.kill()
    page = context.new_page()
    page.goto(f"/trials/{TRIAL}")
    expect(page.get_by_role("heading", name="What do I do now?")).to_be_visible()
    expect(page.locator("[data-offline]")).to_contain_text("Old page, as it was at")
    browser.close()


def test_a_phone_that_was_not_told_warns(
    playwright: Playwright, tls: Server, tmp_path: Path
) -> None:
    browser = phone_that_trusts(playwright, tmp_path / "home", None)
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        browser.new_page().goto(tls.address)
    browser.close()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_nothing_on_the_page_with_the_steps(
    browser: Browser, tmp_path: Path, theme: str
) -> None:
    authority = authority_in(tmp_path / "own", {"hall.local"}, "hall")
    with contextlib.closing(bound("127.0.0.1", 0)) as listening:
        listening.listen(4)
        port = listening.getsockname()[1]
        own = OwnTls(authority, ("localhost",))
        with steps_beside(own, Settings(tmp_path / "n.db"), listening, port + 1):
            context = browser.new_context(viewport=PHONE, color_scheme=theme)  # type: ignore[arg-type]
            page = context.new_page()
            page.goto(f"http://127.0.0.1:{port}/")
            assert violations(page) == []
            page.set_viewport_size({"width": 640, "height": 900})
            page.evaluate("document.documentElement.style.setProperty('font-size', '225%')")
            assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
            context.close()
