"""The single parts of the site, each run by its own process: web, worker, beat."""

import argparse
import sys
import tempfile
from pathlib import Path
from typing import Any, NoReturn

from refuge.serving.addresses import bracketed

WEB_IS_READY = "the web server answers"


def run_web(arguments: list[str]) -> int:
    """Serve the pages with gunicorn until told to stop."""
    parser = argparse.ArgumentParser("clearmere web", description="Serve the pages.")
    add_address_options(parser)
    parser.add_argument("--workers", type=int, default=1, help="processes (more than 1 only with PostgreSQL)")
    parser.add_argument("--threads", type=int, default=8, help="requests one process answers at a time")
    options = parser.parse_args(arguments)
    _web_server(options).run()
    return 0


def add_address_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--host", default="0.0.0.0", help="address to listen at (default: every one)")
    parser.add_argument("--port", type=int, default=8000, help="port to listen at (default: 8000)")


def _web_server(options: argparse.Namespace) -> Any:
    from django.conf import settings
    from gunicorn.app.base import BaseApplication

    configuration = {
        "bind": f"{bracketed(options.host)}:{options.port}",
        "worker_class": "gthread",
        "workers": options.workers,
        "threads": options.threads,
        "timeout": 60,
        "graceful_timeout": 3,
        "worker_tmp_dir": _memory_folder(),
        "control_socket_disable": True,
        "forwarded_allow_ips": "*" if settings.ENVIRONMENT.trust_proxy else "",
        "post_worker_init": lambda worker: worker.log.info(WEB_IS_READY),
    }

    class WebServer(BaseApplication):
        def load_config(self) -> None:
            for name, value in configuration.items():
                self.cfg.set(name, value)

        def load(self) -> Any:
            from refuge.wsgi import application

            return application

    return WebServer()


def _memory_folder() -> str:
    """Where gunicorn's workers show that they live: a file on a slow disk can look like a dead worker."""
    memory = Path("/dev/shm")
    return str(memory) if memory.is_dir() else tempfile.gettempdir()


def run_worker(arguments: list[str]) -> NoReturn:
    """Do the work that the pages and the clock ask for, with Celery's own options."""
    from refuge.celery import app

    sys.exit(app.start(["worker", "--loglevel=INFO", "--without-gossip", "--without-mingle", *arguments]))


def run_beat(arguments: list[str]) -> NoReturn:
    """Be the clock that asks for the plan and the reminders. One for each installation."""
    from refuge.celery import app

    Path(app.conf.beat_schedule_filename).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    sys.exit(app.start(["beat", "--loglevel=INFO", "--pidfile=", *arguments]))
