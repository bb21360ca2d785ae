"""The desk as a whole: the book, the person who stands there, the presenters of all screens, papers."""

from __future__ import annotations

from collections.abc import Callable

from ndi.domain import facts as f
from ndi.gui.presenters.desk import acts, files
from ndi.gui.presenters.desk.checks import Checks
from ndi.gui.presenters.desk.corrections import Corrections
from ndi.gui.presenters.desk.equipment import Equipment
from ndi.gui.presenters.desk.handover import Handover
from ndi.gui.presenters.desk.level_three import LevelThree
from ndi.gui.presenters.desk.materials import Materials
from ndi.gui.presenters.desk.meters import Meters
from ndi.gui.presenters.desk.outages import Outages
from ndi.gui.presenters.desk.papers import Papers, PaperTools
from ndi.gui.presenters.desk.people import People
from ndi.gui.presenters.desk.photographs import Photographs
from ndi.gui.presenters.desk.places import Places
from ndi.gui.presenters.desk.procedures import Procedures
from ndi.gui.presenters.desk.questions import Questions
from ndi.gui.presenters.desk.recalls import Recalls
from ndi.gui.presenters.desk.receiving import Receiving
from ndi.gui.presenters.desk.record import Records
from ndi.gui.presenters.desk.recording_forms import RecordingForms
from ndi.gui.presenters.desk.rejected import Rejected
from ndi.gui.presenters.desk.reports import Reports
from ndi.gui.presenters.desk.search import Place, Search, place_of
from ndi.gui.presenters.desk.serious_findings import SeriousFindings
from ndi.gui.presenters.desk.studies import Gathering, HowGood, Trends
from ndi.gui.presenters.desk.verification import Verification
from ndi.gui.presenters.desk.work_orders import WorkOrders
from ndi.services.lookup import every
from ndi.services.workplace import Workplace

PRACTICE_WORD = "PRACTICE"
PRACTICE_SENTENCE = "nothing here counts for a real part, no real tag is printed"


class Desk:
    """Everything that the screens ask.

    ``person`` is who stands at the desk: remembered by the shell (``keep`` is
    told of each change), proved with each signature and never before.
    """

    def __init__(
        self,
        work: Workplace,
        person: str = "",
        *,
        papers: PaperTools | None = None,
        keep: Callable[[str], None] = lambda _person: None,
    ) -> None:
        self.work, self.person, self._keep = work, person, keep
        self.search = Search(work)
        self.work_orders = WorkOrders(work)
        self.records = Records(work)
        self.papers = Papers(work, papers, self._who)
        self.reports = Reports(work, self.papers)
        forms = RecordingForms(work, self._who)
        self.corrections = Corrections(work, self._who)
        self.receiving = Receiving(work, self._who, forms)
        self.equipment = Equipment(work, self._who, forms)
        self.checks = Checks(work, self._who, forms)
        self.materials = Materials(work, self._who, forms)
        self.procedures = Procedures(work)
        self.persons = People(work, self._who, forms)
        self.questions = Questions(work, self._who)
        self.recalls = Recalls(work, self._who)
        self.places = Places(work, self._who, forms)
        self.meters = Meters(work, self._who)
        self.serious = SeriousFindings(work, self._who)
        self.rejected = Rejected(work, self._who)
        self.verification = Verification(work, self._who, self.reports)
        self.level_three = LevelThree(work, self._who)
        self.handover = Handover(work, self._who, self.papers, forms)
        self.outages = Outages(work, self._who, self.papers)
        self.trends = Trends(work, self.papers)
        self.gathering = Gathering(work, self.papers)
        self.how_good = HowGood(work, self.papers, self._who)
        self.photographs = Photographs(work, self._who)
        self.completed, self.folder, self.parent_folder = files.completed, files.folder, files.parent

    @property
    def practice(self) -> bool:
        return self.work.practice

    @property
    def banner(self) -> str:
        """What every screen shows of a practice book; empty for a real one."""
        return f"{PRACTICE_WORD}: {PRACTICE_SENTENCE}" if self.practice else ""

    def people(self) -> tuple[str, ...]:
        """Everybody who may stand here."""
        with self.work.book.session(readonly=True) as session:
            gone = {r.fact.person for r in every(session, f.PersonRemoved)}
            return tuple(
                dict.fromkeys(r.fact.person for r in every(session, f.PersonEntered) if r.fact.person not in gone)
            )

    def _who(self) -> str:
        return self.person

    def head(self) -> int:
        """The last entry of the book: another number means that something was entered."""
        with self.work.book.session(readonly=True) as session:
            return session.head().position

    @property
    def book_name(self) -> str:
        return f"{self.work.book.book_id}, station {self.work.station}"

    def stand(self, person: str) -> None:
        """Another person stands at the desk."""
        self.person = person
        self._keep(person)

    # --- acts ---------------------------------------------------------------------------------------

    def asks_secret(self, act: acts.Act) -> bool:
        return acts.asks_secret(self.work, act)

    def carry_out(
        self, act: acts.Act, secret: str = "", badge: str = "", second_secret: str = "", second_badge: str = ""
    ) -> str:
        """Do an act; says what was saved."""
        return acts.carry_out(self.work, act, secret, badge or None, second_secret, second_badge or None)

    @staticmethod
    def explain(error: Exception) -> acts.Failure | None:
        """An error in words; None for a mistake of the program, which nobody hides."""
        return acts.explain(error)

    @staticmethod
    def place_of(key: str) -> Place:
        return place_of(key)
