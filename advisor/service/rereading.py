"""A site file that its owner has changed is read again while the service runs.

What cannot be used leaves the site as it was, and is told until it is mended; it is tried again by itself,
because what was wrong may pass without a new date on the file. Records, name, time zone
and messages are settled when the service begins.
"""

from __future__ import annotations

from datetime import datetime

from advisor.errors import AdvisorError, InputError
from advisor.lawn import Site, load_site, message_settings, service_settings
from advisor.sentences import site_file_words
from advisor.service.logs import say
from advisor.service.served import SITE_FILE, Served


def written_at(site: Site) -> tuple[int, int]:
    """When the site file was last written and how long it is, (0, 0) where it is not there."""
    try:
        found = site.path.stat()
    except OSError:
        return 0, 0
    return found.st_mtime_ns, found.st_size


def reread(one: Served, now: datetime) -> None:
    """Take up what has changed in the site file; a change that cannot be used is noted as failing."""
    stamp, failing = written_at(one.site), one.failing.get(SITE_FILE)
    same = one.written_at == stamp
    if same and (failing is None or one.waits(SITE_FILE, now)):
        return
    first, one.written_at = one.written_at is None, stamp
    if first:
        return
    try:
        site = load_site(one.site.path)
        settings, messages = service_settings(site), message_settings(site)
        _same_where_it_must_be(one, site)
        if messages != one.messages:
            raise InputError("the section messages has changed", where=str(site.path), allowed=START_AGAIN)
    except AdvisorError as error:
        again = one.failed(SITE_FILE, site_file_words(str(error)), now)
        if failing is None or failing.why != again.why:
            say("site file not used", site=one.site.place.name, why=again.why)
        return
    one.site = one.outbox.site = site
    one.settings = settings
    one.failing.pop(SITE_FILE, None)
    say("site file read again", site=site.place.name)


START_AGAIN = "start the service again to use it"


def _same_where_it_must_be(one: Served, site: Site) -> None:
    for what, before, after in (
        ("the name", one.site.place.name, site.place.name),
        ("the time zone", one.site.place.zone.key, site.place.zone.key),
        ("the place of the records", one.site.records_path, site.records_path),
    ):
        if before != after:
            raise InputError(f"{what} has changed", where=str(site.path), allowed=START_AGAIN)
