"""The page that ends the demo and leaves an empty database."""

from __future__ import annotations

import subprocess
import sys

from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.demo_people import is_demo_folder
from fleetdoors.forms.demo_end import DemoEndForm
from fleetdoors.models import Role

LONGEST_SECONDS = 300


@open_to(Role.ADMINISTRATOR)
def demo_end(request: SignedInRequest) -> HttpResponse:
    """Ask who goes on, and remove the demo; where there is none, say so."""
    if not is_demo_folder(settings.DATA_DIR):
        return render(request, "fleetdoors/demo_end.html", {})
    form = DemoEndForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        why_not = _remove(form.cleaned_data["administrator"], form.cleaned_data["password"])
        if not why_not:
            logout(request)
            return redirect("sign-in")
        form.add_error(None, why_not)
    return render(request, "fleetdoors/demo_end.html", {"form": form})


def _remove(administrator: str, password: str) -> str:
    """Run the command, which needs a process of its own; returns why it failed, or nothing.

    Its words are fixed: what was typed goes to its input.
    """
    done = subprocess.run(
        [sys.executable, str(settings.ROOT / "manage.py"), "demo", "--remove"],
        input=f"{administrator}\n{password}\n",
        capture_output=True,
        text=True,
        timeout=LONGEST_SECONDS,
        check=False,
    )
    if done.returncode == 0:
        return ""
    return _("The demo is still there. %(why)s") % {"why": done.stderr.strip()[-300:]}
