"""Button of the schematic editor: starts loadloom in an environment of its own, which is made the first time.

Standard library only, in syntax that Python 3.6 reads, since KiCad may start it with any Python; what it finds
missing is said on a page in the browser, since a plugin has no window.
"""

import sys

HERE = __file__.replace("\\", "/").rpartition("/")[0] or "."
# Modules beside this file must not stand in the way of the standard library's.
sys.path[:] = [p for p in sys.path if p.replace("\\", "/").rstrip("/") not in (HERE.rstrip("/"), "")]

import html  # noqa: E402
import json  # noqa: E402
import os  # noqa: E402
import shutil  # noqa: E402
import subprocess  # noqa: E402
import threading  # noqa: E402
import time  # noqa: E402
import webbrowser  # noqa: E402
from http.server import BaseHTTPRequestHandler, HTTPServer  # noqa: E402
from socketserver import ThreadingMixIn  # noqa: E402
from typing import Dict, List, Optional  # noqa: E402, F401 - for the comments

NEEDED = (3, 11)
MODULE = "loadloom.plugin.kicad.button"
STYLE = "body{font:16px/1.5 sans-serif;max-width:44em;margin:4em auto;padding:0 1em}pre{white-space:pre-wrap}"
STALE_S = 1800.0
FAREWELL_S = 15.0
SILENCE_S = 10.0


class Page:
    """A page served to this computer's browser, changed as things go on."""

    def __init__(self):
        # type: () -> None
        self.say("loadloom", "One moment.")  # a browser may ask before there is more to say, and then asks again
        self.last_seen = False
        self.final = False
        word = os.urandom(12).hex()
        page = self

        class Handler(BaseHTTPRequestHandler):
            """Answers with the page as it stands."""

            timeout = SILENCE_S

            def do_GET(self):
                # type: () -> None
                """Answer only those who know the word and the address."""
                host = "127.0.0.1:{}".format(server.server_port)
                if self.path != "/" + word or self.headers.get("Host") != host:
                    self.send_error(404)
                    return
                final, content = page.final, page.content  # once: the page may change while it is sent
                self.send_response(200)
                self.send_header("Content-Type", "text/html; charset=utf-8")
                self.send_header("Content-Length", str(len(content)))
                self.end_headers()
                self.wfile.write(content)
                page.last_seen = final

            def log_message(self, format, *args):
                # type: (str, *object) -> None
                """Say nothing."""

        class Server(ThreadingMixIn, HTTPServer):
            """A thread for each connection: browsers open some ahead, on which nothing comes for a long time."""

            daemon_threads = True

        server = Server(("127.0.0.1", 0), Handler)
        self.address = "http://127.0.0.1:{}/{}".format(server.server_port, word)
        thread = threading.Thread(target=server.serve_forever)
        thread.daemon = True
        thread.start()

    def say(self, title, text, details=""):
        # type: (str, str, str) -> None
        """Show something that will change."""
        self._set(title, text, details, '<meta http-equiv="refresh" content="1">')

    def end(self, title, text, details=""):
        # type: (str, str, str) -> None
        """Show the last word, and wait until the browser has fetched it."""
        self._set(title, text, details, "")
        self.final = True
        until = time.time() + FAREWELL_S
        while not self.last_seen and time.time() < until:
            time.sleep(0.1)

    def _set(self, title, text, details, head):
        # type: (str, str, str, str) -> None
        shown = "".join("<p>{}</p>".format(html.escape(part)) for part in text.split("\n"))
        if details:
            shown += "<pre>{}</pre>".format(html.escape(details))
        page = (
            '<!doctype html><html lang="en"><head><meta charset="utf-8">{}<title>{}</title><style>{}</style>'
            "</head><body><h1>{}</h1>{}</body></html>"
        )
        title = html.escape(title)
        self.content = page.format(head, title, STYLE, title, shown).encode("utf-8")


class SetUpError(Exception):
    """The environment can't be made; ``details`` are a program's own words."""

    def __init__(self, cause, details=""):
        # type: (str, str) -> None
        Exception.__init__(self, cause)
        self.details = details


def main():
    # type: () -> int
    """Start loadloom for the drawing that is open."""
    python = recorded_python() or own_python()
    if python is None:
        page = Page()
        python = set_up(page)
        if python is None:
            return 2
    return run(python)


def recorded_python():
    # type: () -> Optional[str]
    """The interpreter that ``loadloom kicad add`` noted beside this file, if it is still there."""
    try:
        with open(os.path.join(HERE, "environment.json"), encoding="utf-8") as file:
            python = json.load(file)["python"]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return python if isinstance(python, str) and os.path.exists(python) else None


def own_folder():
    # type: () -> str
    """Where the environment lives that this script makes."""
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or os.path.expanduser("~")
    elif sys.platform == "darwin":
        base = os.path.expanduser("~/Library/Application Support")
    else:
        base = os.environ.get("XDG_DATA_HOME") or os.path.expanduser("~/.local/share")
    return os.path.join(base, "loadloom")


def wanted():
    # type: () -> str
    """The archive beside this script that is installed; nothing is fetched by name, since names can be taken."""
    beside = sorted(name for name in os.listdir(HERE) if name.startswith("loadloom-") and name.endswith(".zip"))
    if not beside:
        raise SetUpError(
            "The environment that loadloom was installed in is gone, and nothing to install it from lies beside "
            "this button.\nRun `loadloom kicad add` in the new environment, or install the archive in the Plugin "
            "and Content Manager."
        )
    return os.path.join(HERE, beside[-1])


def environment_python(folder):
    # type: (str) -> str
    """The interpreter inside an environment."""
    place = ("Scripts", "python.exe") if sys.platform == "win32" else ("bin", "python")
    return os.path.join(folder, *place)


def own_python():
    # type: () -> Optional[str]
    """The interpreter of the environment made earlier, if it was made whole and from what is wanted now."""
    folder = os.path.join(own_folder(), "environment")
    try:
        with open(os.path.join(folder, "ready"), encoding="utf-8") as file:
            same = file.read() == os.path.basename(wanted())
    except (OSError, SetUpError):
        return None
    python = environment_python(folder)
    return python if same and os.path.exists(python) else None


def set_up(page):
    # type: (Page) -> Optional[str]
    """Make the environment, showing how it goes on; None if it failed, which the page then says."""
    title = "Setting loadloom up (this once)"
    lock = os.path.join(own_folder(), "setting_up")
    try:
        os.makedirs(own_folder(), exist_ok=True)
        if not take(lock, page.address):
            return None
    except OSError as error:
        webbrowser.open(page.address)
        page.end("loadloom can't be set up", "{} can't be written: {}".format(own_folder(), error))
        return None
    page.say(title, "Looking for Python {}.{} or newer".format(*NEEDED))
    webbrowser.open(page.address)
    folder = os.path.join(own_folder(), "environment")
    try:
        archive = wanted()
        python = find_python()
        shutil.rmtree(folder, ignore_errors=True)
        page.say(title, "Making an environment in {}".format(folder))
        call([python, "-m", "venv", folder], page, title)
        inside = environment_python(folder)
        page.say(title, "Downloading and installing what loadloom needs. This takes a minute or two.")
        command = [inside, "-m", "pip", "install", "--disable-pip-version-check", "--no-input", archive]
        call(command, page, title)
        with open(os.path.join(folder, "ready"), "w", encoding="utf-8") as file:
            file.write(os.path.basename(archive))
    except (SetUpError, OSError) as error:
        shutil.rmtree(folder, ignore_errors=True)
        page.end("loadloom can't be set up", str(error), getattr(error, "details", ""))
        return None
    finally:
        try:
            os.remove(lock)
        except OSError:
            pass
    page.end("loadloom is set up", "The report follows on a page of its own.")
    return inside


def take(lock, address):
    # type: (str, str) -> bool
    """Take the lock; false, with the other's page shown, where another set-up is under way."""
    try:
        if time.time() - os.path.getmtime(lock) > STALE_S:
            os.remove(lock)
    except OSError:
        pass
    try:
        number = os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY)
    except FileExistsError:
        with open(lock, encoding="utf-8") as file:
            webbrowser.open(file.read())
        return False
    with os.fdopen(number, "w") as file:
        file.write(address)
    return True


def find_python():
    # type: () -> str
    """A Python that is new enough: this one, else one on the search path."""
    if sys.version_info >= NEEDED:
        return sys.executable
    found = []
    names = ["python3.{}".format(minor) for minor in range(NEEDED[1] + 5, NEEDED[1] - 1, -1)] + [
        "python3",
        "python",
    ]
    commands = [[name] for name in names]
    if sys.platform == "win32":
        commands.insert(0, ["py", "-3"])
    question = "import sys; print(sys.executable); print(*sys.version_info[:2])"
    for command in commands:
        if shutil.which(command[0]) is None:
            continue
        try:
            answer = subprocess.check_output(
                command + ["-c", question], env=clean(), stderr=subprocess.DEVNULL, universal_newlines=True
            )
            path, version = answer.strip().split("\n")
            numbers = tuple(int(part) for part in version.split())
        except (OSError, ValueError, subprocess.CalledProcessError):
            continue
        if numbers >= NEEDED:
            return path
        found.append("{} ({}.{})".format(path, *numbers))
    mine = "{} ({}.{})".format(sys.executable, *sys.version_info[:2])
    raise SetUpError(
        "loadloom needs Python {}.{} or newer, and only older ones were found: {}.\nInstall a newer Python, and "
        "press the button again.".format(NEEDED[0], NEEDED[1], ", ".join([mine] + found))
    )


def call(command, page, title):
    # type: (List[str], Page, str) -> None
    """Run a program, its last lines on the page; SetUpError with them if it fails."""
    lines = []  # type: List[str]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=clean(), universal_newlines=True, bufsize=1
    )
    for line in process.stdout or ():
        lines = (lines + [line.rstrip()])[-24:]
        page.say(
            title, "Running {} {}".format(os.path.basename(command[0]), " ".join(command[1:4])), "\n".join(lines)
        )
    if process.wait() != 0:
        hint = (
            "Is this computer connected to the network?" if "pip" in command else "Is Python's venv module there?"
        )
        raise SetUpError(
            "{} ended with {}. {}".format(" ".join(command[:4]), process.returncode, hint), "\n".join(lines)
        )


def clean():
    # type: () -> Dict[str, str]
    """The environment without what KiCad's own Python put there."""
    drop = ("PYTHONHOME", "PYTHONPATH", "VIRTUAL_ENV", "PYTHONNOUSERSITE", "__PYVENV_LAUNCHER__")
    return {name: value for name, value in os.environ.items() if name not in drop}


def run(python):
    # type: (str) -> int
    """Run loadloom; what it could not say itself is shown."""
    process = subprocess.Popen(
        [python, "-I", "-m", MODULE], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=clean(), cwd=own_cwd()
    )
    output = process.communicate()[0].decode("utf-8", "replace")
    if process.returncode not in (0, 2):
        page = Page()
        webbrowser.open(page.address)
        text = "{} ended with {}. If its environment is broken, run `loadloom kicad add` again.".format(
            python, process.returncode
        )
        page.end("loadloom could not be started", text, output[-4000:])
    return process.returncode


def own_cwd():
    # type: () -> str
    """A working folder that is sure to exist."""
    places = [os.environ.get("KIPRJMOD", ""), os.path.expanduser("~"), HERE]
    return next(folder for folder in places if os.path.isdir(folder))


if __name__ == "__main__":
    sys.exit(main())
