"""What every page has around it: whose pages they are, the navigation, and the links under the path prefix."""

from collections.abc import Mapping
from dataclasses import dataclass

#: The pages of the navigation: (what the link says, path). A new page is one line here.
PAGES: tuple[tuple[str, str], ...] = (
    ("Now", "/"),
    ("Week", "/week"),
    ("Month", "/month"),
    ("Sharing", "/sharing"),
    ("Transmitter", "/transmitter"),
    ("Reception", "/reception"),
    ("Links", "/links"),
    ("Moment", "/moment"),
    ("Intake", "/intake"),
    ("Explore", "/explore"),
    ("Definitions", "/definitions"),
)


@dataclass(frozen=True)
class Link:
    """A link in the text of a page."""

    label: str
    href: str


@dataclass(frozen=True)
class Choice:
    """One choice of a form's list."""

    value: str
    label: str
    chosen: bool


@dataclass(frozen=True)
class Entry:
    """One link of the navigation."""

    label: str
    href: str
    current: bool = False


@dataclass(frozen=True)
class Shell:
    """The frame of a page."""

    title: str
    repeater: str  #: call sign and place; empty for whoever has not signed in
    home: str
    style: str
    icon: str
    definitions: str
    intake: str
    nav: tuple[Entry, ...] = ()


@dataclass(frozen=True)
class Links:
    """Addresses under the path prefix."""

    prefix: str
    files: Mapping[str, str]  #: file in templates/ -> its path with its fingerprint

    def to(self, path: str) -> str:
        return self.prefix + path

    def shell(self, title: str, repeater: str, here: str | None, signed_in: bool, nav: bool = True) -> Shell:
        """The frame of the page that the navigation has at `here` (None: a page that it doesn't have)."""
        entries = [Entry(label, self.to(path), path == here) for label, path in PAGES] if nav else []
        if nav and signed_in:
            entries.append(Entry("Sign out", self.to("/logout"), here == "/logout"))
        return Shell(
            title=title,
            repeater=repeater,
            home=self.to("/"),
            style=self.to(self.files["style.css"]),
            icon=self.to(self.files["icon.svg"]),
            definitions=self.to("/definitions"),
            intake=self.to("/intake"),
            nav=tuple(entries),
        )
