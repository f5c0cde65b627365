"""The learning behind the teaching pages: with a thread of its own for each visitor who waits, one lesson at a time."""

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Annotated, Any

from fastapi import Depends
from starlette.requests import Request

from server.bounded import OneAtATime
from server.teaching.teacher import Teacher
from server.web.guard import SESSION_COOKIE
from server.web.sign.forms import FORM_COOKIE

LEARNERS = 8
Left = Callable[[], bool]


class Classroom:
    """A teacher, and who waits for a lesson: in threads of their own, so that they keep nobody from a page."""

    def __init__(self, teacher: Teacher) -> None:
        self.teacher = teacher
        self._at_work = OneAtATime()
        self._threads = ThreadPoolExecutor(LEARNERS, "learning")

    async def learn(self, request: Request, work: Callable[[Left], Any]) -> Any:
        """What `work` gives; ended when the visitor leaves, or asks for something else."""
        who = request.cookies.get(SESSION_COOKIE) or request.cookies.get(FORM_COOKIE) or ""
        left = threading.Event()
        learning = asyncio.get_running_loop().run_in_executor(self._threads, self._at_work.run, who, work, left.is_set)
        try:
            while not (await asyncio.wait({learning}, timeout=0.25))[0]:
                if await request.is_disconnected():
                    left.set()
            return learning.result()
        finally:
            left.set()


async def _classroom_of(request: Request) -> Classroom:
    classroom: Classroom = request.app.state.classroom
    return classroom


Taught = Annotated[Classroom, Depends(_classroom_of)]
