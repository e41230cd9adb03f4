"""The change trail of one pour, one machine or one report: who, when, from what to what, and why."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from groutjobs.accounts.access import allowed, row_or_404
from groutjobs.accounts.models import EVERY_ROLE
from groutjobs.audit.models import AuditedRow
from groutjobs.audit.queries import events_about
from groutjobs.equipment.models import Machine
from groutjobs.planning.models import PourPlan
from groutjobs.pours.models import Pour
from groutjobs.pours.queries import pour_whole
from groutjobs.signing.record_page import trail_context
from groutjobs.turnover.models import TurnoverReport
from groutjobs.turnover.queries import report_whole, trail_of


@allowed(read=EVERY_ROLE)
def pour_trail(request: HttpRequest, pour_id: int) -> HttpResponse:
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    context = trail_context(request, trail_of(pour), pour.plan.machine.site)
    return render(request, "turnover/trail.html", context | {"about": f"{pour}", "machine": pour.plan.machine})


@allowed(read=EVERY_ROLE)
def machine_trail(request: HttpRequest, machine_id: int) -> HttpResponse:
    machines = Machine.objects.select_related("site", "foundation", "baseplate")
    machine = row_or_404(request, machines, pk=machine_id)
    rows: list[AuditedRow] = [machine]
    rows += [row for row in (getattr(machine, "foundation", None), getattr(machine, "baseplate", None)) if row]
    rows += PourPlan.objects.filter(machine=machine).only("pk")
    rows += Pour.objects.filter(plan__machine=machine)
    rows += TurnoverReport.objects.filter(pour__plan__machine=machine)
    context = trail_context(request, events_about(rows), machine.site)
    return render(request, "turnover/trail.html", context | {"about": machine.tag, "machine": machine})


@allowed(read=EVERY_ROLE)
def report_trail(request: HttpRequest, report_id: int) -> HttpResponse:
    report = row_or_404(request, report_whole(), pk=report_id)
    machine = report.pour.plan.machine
    context = trail_context(request, events_about([report, *report.signatures.all()]), machine.site)
    return render(request, "turnover/trail.html", context | {"about": f"{report}", "machine": machine})
