"""Load the invented kitchen, draw up its orders, show them, and serve the site."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError, CommandParser, OutputWrapper
from django.utils import timezone

from inventory.engine.dates import BusinessClock
from inventory.exchange.book import TextSheet
from inventory.management.refusing import RefusingCommand
from inventory.models import Location
from inventory.selectors.business import business
from purchasing.exchange.demo import demo_workbook
from purchasing.exchange.demo.people import FIRST, hire_people
from purchasing.exchange.workbook import load_sheets
from purchasing.management.commands._lots import lots_document
from purchasing.management.commands._moments import moment
from purchasing.management.commands._names import names
from purchasing.printed import expiring_text, lots_of, orders_text, plan_of
from purchasing.services.reorder import draw_up_orders

HOST = "127.0.0.1"
SHOWN_LOTS = 15
SHOWN_DAYS = 7


class Command(RefusingCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--as-of", help="YYYY-MM-DDTHH:MM in the business's zone; now")
        parser.add_argument("--no-serve", action="store_true", help="stop before serving")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--json", action="store_true", dest="as_json")

    def prepare(self) -> None:
        call_command("migrate", verbosity=0)

    def work(self, **options: Any) -> None:
        if not settings.DEBUG:
            raise CommandError(
                "The demo lets anybody sign in as anybody. Run it with DEBUG=1, on a laptop."
            )
        self._load(options["as_of"])
        password = hire_people(at=timezone.now())
        clock = BusinessClock(business().time_zone)
        text = options["as_of"]
        as_of = moment(text, clock) if text else timezone.now().replace(microsecond=0)
        orders = draw_up_orders(as_of=as_of).document
        today = clock.day_of(int(as_of.timestamp()))
        lots = lots_document(today, at=as_of, days=SHOWN_DAYS)
        if options["as_json"]:
            self.print_json({"reorder": orders, "expiring": lots})
        else:
            self.stdout.write(orders_text(plan_of(orders), names()))
            soonest = expiring_text(lots_of(lots), today, names(), most=SHOWN_LOTS)
            self.stdout.write(soonest)
        if not options["no_serve"]:
            told = self.stderr if options["as_json"] else self.stdout
            if password:
                told.write(
                    f"Sign in by pressing a name, or as {FIRST} with the password {password} "
                    "(shown this once)."
                )
            settings.DEMO = True
            self._serve(options["port"], told)

    def _load(self, as_of: str | None) -> None:
        """The scenario is loaded once; later runs plan with what is there."""
        if Location.objects.exists():
            return
        at: datetime = timezone.now()
        if as_of:
            try:
                at = datetime.fromisoformat(as_of)
            except ValueError:
                raise CommandError(
                    f"--as-of: '{as_of}' is not a moment; a moment is YYYY-MM-DDTHH:MM"
                ) from None
        sheets = demo_workbook(at)
        load_sheets(
            [TextSheet(name, rows) for name, rows in sheets.items() if rows],
            by=None,
            at=timezone.now(),
        )

    def _serve(self, port: int, told: OutputWrapper) -> None:
        """``told``: where the address is printed."""
        from waitress.server import create_server

        from config.wsgi import application

        try:
            server = create_server(application, host=HOST, port=port)
        except OSError:
            raise CommandError(
                f"Port {port} is taken. Use another: manage.py demo --port {port + 1}"
            ) from None
        signal.signal(signal.SIGTERM, signal.default_int_handler)  # ends the worker too
        with _worker():
            told.write(f"Open http://{HOST}:{port}/ in a browser. Stop with Ctrl+C.")
            told.flush()
            self.stdout.flush()
            try:
                server.run()
            finally:
                server.close()


@contextmanager
def _worker() -> Iterator[None]:
    """A worker beside the site, which ends with it."""
    log = settings.DATA_DIR / "worker.log"
    log.parent.mkdir(parents=True, exist_ok=True)
    with log.open("ab") as out:
        words = [sys.executable, "-m", "celery", "-A", "config", "worker", "-B", "-P", "solo"]
        child = subprocess.Popen([*words, "--loglevel", "WARNING"], stdout=out, stderr=out)
        try:
            yield
        finally:
            child.terminate()
            child.wait()
