"""``ndi print`` sends a paper to a queue of the system; ``ndi traveller`` makes the lines that go with parts."""

from __future__ import annotations

import argparse
from pathlib import Path

from ndi import bootstrap
from ndi.domain.errors import InputError
from ndi.services.ports import QueueAnswer, QueueState
from ndi.services.print_jobs import print_paper
from ndi.services.travellers import travellers


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("print", help="send a paper to a print queue and keep the answer")
    parser.add_argument("file", type=Path, help="a PDF")
    parser.add_argument("--queue", required=True, help="name of the queue, as lpstat -e lists it")
    parser.add_argument("--book", type=bootstrap.where, help="keep the answer in this book")
    parser.add_argument("--by", help="who prints (default: the station)")
    parser.add_argument("--station", help="the station that stands here, where the key folder holds several")
    parser.set_defaults(run=run)
    lines = commands.add_parser("traveller", help="print the lines that go with parts through the shop")
    lines.add_argument("book", type=bootstrap.where)
    lines.add_argument("parts", nargs="*", metavar="PART", help="WORK ORDER/PART NUMBER/SERIAL OR LOT")
    lines.add_argument("--work-order", help="every part of this work order that is inspected")
    lines.add_argument("--out", type=Path, required=True, metavar="FILE", help="PDF to write")
    lines.add_argument("--station", help="the station that stands here, where the key folder holds several")
    lines.set_defaults(run=run_travellers)


def run(args: argparse.Namespace) -> int:
    """Exit 0 when the paper is queued, 1 when it was refused or nobody knows."""
    printer = bootstrap.system_printer()
    if args.book is None:
        answer, kept = printer.send(args.file, args.queue), "not kept: no --book given"
    else:
        work = bootstrap.open_book(args.book, station=args.station)
        answer, recorded = print_paper(work, printer, args.file, args.queue, args.by or work.station)
        kept = f"entry {recorded.position}"
    print(f"{_said(answer)} ({kept})")
    return 0 if answer.state is QueueState.QUEUED else 1


def _said(answer: QueueAnswer) -> str:
    words = [str(answer.state), f"as {answer.job}" if answer.job else "", f"- {answer.detail}" if answer.detail else ""]
    return " ".join(word for word in words if word)


def run_travellers(args: argparse.Namespace) -> int:
    if not args.parts and args.work_order is None:
        raise InputError("name parts, or a work order with --work-order")
    work = bootstrap.open_book(args.book, station=args.station)
    model = travellers(work, args.parts, args.work_order)
    bootstrap.write_paper(args.out, bootstrap.traveller_pdf(model, work))
    print(f"{len(model.lines)} lines in {args.out}")
    return 0
