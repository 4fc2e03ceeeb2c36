"""A gunicorn worker whose main thread does all the waiting for clients, and whose other threads never wait for one.

The main thread takes bytes until a request is whole, and sends what a client did not take at once; only then, and only in
between, a thread has to do with it. Ten thousand open connections, or as many that send a byte now and then, cost their
sockets and no more.
"""

from __future__ import annotations

import errno
import math
import mmap
import os
import selectors
import signal
import socket
import sys
import time
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from typing import Any

from gunicorn.http import errors
from gunicorn.workers.base import Worker as BaseWorker

from wattpair_service import refusals
from wattpair_service.arbiter import let_in
from wattpair_service.connection import Connection, Exchange, Phase
from wattpair_service.identity import Identity
from wattpair_service.refusals import Refusal
from wattpair_service.threads import MAIN, Threads

HEAD_TIME_MAX_S = 10.0
"""From the first byte of a request to the end of its head."""
LINGER_S = 2.0
STOP_IDLE_S = 2.0
"""A stopping worker closes a connection that says nothing for so long."""
STUCK_AFTER_S = 5.0
"""After its client was told that it takes too long, how long a request may go on before its worker is replaced."""
TICK_S = 0.5
PATIENCE_S, PATIENCES_MOST = 0.002, 4
"""How long a busy worker leaves a new connection to the others, for each request that it has."""
ACCEPT_MOST = 64
ACCEPT_PAUSE_S = 0.05
NO_ROOM = (errno.EMFILE, errno.ENFILE, errno.ENOBUFS, errno.ENOMEM)
READY_MOST = 256
"""Requests that wait for a thread. Those beyond the queue of calculations are refused by one, in a moment."""
HELD_BODIES, BODY_BYTES_LEAST = 8, 1 << 20
"""What all requests and answers of a worker may take in memory, in bodies of the longest kind, or of this length."""
SWITCH_S = 0.0005
"""While a thread calculates, what else has to be done waits for at most so long; Python's own 5 ms would count several times
in each answer."""
STARTING, ACCEPTING, LEAVING = range(3)


class Worker(BaseWorker):  # type: ignore[misc]  # gunicorn publishes no types
    """Serves until its arbiter says stop, and asks it for a successor first where the worker has served long enough."""

    slot: int

    def __init__(self, *args: Any) -> None:
        super().__init__(*args)
        self._state = mmap.mmap(-1, 1)
        """Shared with the arbiter, in which this runs."""
        settings = self.app.settings
        self._time_max_s = float(settings.request_time_max_s)
        self._body_limit_bytes: int = settings.body_limit_bytes
        self._held_bytes_max = HELD_BODIES * max(self._body_limit_bytes, BODY_BYTES_LEAST)
        self._held_bytes = 0
        self._connections: set[Connection] = set()
        self._idle: OrderedDict[Connection, None] = OrderedDict()
        """Those that say nothing, the longest silent first."""
        self._is_accepting = False
        self._is_short = False
        """Whether the last connection could not be taken."""
        self._patient_until_s = math.inf
        self._accept_again_s = -math.inf
        self._next_tick_s = 0.0

    @property
    def is_accepting(self) -> bool:
        """Whether it takes connections and means to go on; for the arbiter."""
        return self._state[0] == ACCEPTING

    @property
    def is_leaving(self) -> bool:
        """Whether it waits for its successor; for the arbiter."""
        return self._state[0] == LEAVING

    def _tell_arbiter(self, state: int) -> None:
        self._state[0] = state
        with suppress(OSError):  # it is gone, and this worker ends with it
            os.kill(self.ppid, signal.SIGCHLD)  # which makes it look at its workers

    def run(self) -> None:
        """Serve until told to stop, and then finish what is under way."""
        sys.setswitchinterval(SWITCH_S)
        self._poller = selectors.DefaultSelector()
        self._poller.register(self.PIPE[0], selectors.EVENT_READ, self._take_finished)
        self._threads = Threads(self, self._wake, self._may_keep)
        self._threads.start(self.cfg.threads)
        for listener in self.sockets:
            listener.setblocking(False)
        self._tell_arbiter(ACCEPTING)
        while self.alive and self.ppid == os.getppid():
            self._go_round(self._accept_or_wait())
        self._stop()

    def _stop(self) -> None:
        """Take what has connected already, close the door, and answer all."""
        self.alive = False
        for listener in self.sockets:
            self._accept_waiting(listener, self.cfg.backlog)
        self._accept_or_not(False)
        for listener in self.sockets:
            listener.close()
        now = time.monotonic()
        for connection in self._connections:
            if connection.phase is Phase.IDLE:
                connection.deadline_s = min(connection.deadline_s, now + STOP_IDLE_S)
        while self._connections and time.monotonic() < now + self.cfg.graceful_timeout:
            self._go_round()

    def _go_round(self, wait_s: float = TICK_S) -> None:
        for key, events in self._poller.select(wait_s):
            key.data(events)
            self._bound_memory()
        now = time.monotonic()
        if now >= self._next_tick_s:
            self._next_tick_s = now + TICK_S
            self.notify()
            self._look_at_clocks(now)

    def _wake(self) -> None:
        with suppress(BlockingIOError):  # enough is in it to wake the main thread
            os.write(self.PIPE[1], b".")

    # Connections

    def _accept_or_wait(self) -> float:
        """Take connections at once where there is nothing else to do, and else after a while; how long that is [s].

        What a busy worker leaves goes to one that is idle, or that becomes so first: all take from one queue, the kernel's.
        """
        now = time.monotonic()
        if now < self._accept_again_s:
            self._accept_or_not(False)
            return self._accept_again_s - now
        may_accept = self._may_accept()
        is_patient = may_accept and self.cfg.workers > 1 and self._threads.load > 0
        self._accept_or_not(may_accept and not is_patient)
        if not is_patient:
            self._patient_until_s = math.inf
            return TICK_S
        if now >= self._patient_until_s:
            for listener in self.sockets:
                self._accept_waiting(listener, ACCEPT_MOST)
            self._patient_until_s = math.inf
        self._patient_until_s = min(self._patient_until_s, now + PATIENCE_S * min(self._threads.load, PATIENCES_MOST))
        return self._patient_until_s - now

    def _has_room(self) -> bool:
        return len(self._connections) < int(self.cfg.worker_connections)

    def _may_accept(self) -> bool:
        """Whether there is room for a connection, or may be made; who has connected before a stop is taken in any case."""
        return not self.alive or self._has_room() or bool(self._idle)

    def _may_keep(self) -> bool:
        return bool(self.alive) and self._has_room()

    def _accept_waiting(self, listener: socket.socket, most: int) -> None:
        while most > 0 and self._may_accept() and self._accept(listener):
            most -= 1

    def _accept_or_not(self, accept: bool) -> None:
        if accept == self._is_accepting:
            return
        for listener in self.sockets:
            if accept:
                self._poller.register(listener, selectors.EVENT_READ, partial(self._on_waiting, listener))
            else:
                self._poller.unregister(listener)
        self._is_accepting = accept

    def _on_waiting(self, listener: socket.socket, _: int) -> None:
        self._accept(listener)

    def _accept(self, listener: socket.socket) -> bool:
        """Take a connection and what it has said; False where none waits or can be taken."""
        try:
            client, address = listener.accept()
        except BlockingIOError:
            return False
        except ConnectionAbortedError:
            return True
        except OSError as error:  # no files, no memory, or what the network did to one that was about to come
            return self._make_room(error)
        self._is_short = False
        client.setblocking(False)
        if not self._has_room():
            self._end_longest_idle()
        if not self.alive:
            let_in(client)
        time_max_s = self._time_max_s if self.alive else STOP_IDLE_S
        connection = Connection(client, address, time.monotonic() + time_max_s)
        self._connections.add(connection)
        self._attend(connection, self._read)
        self._bound_memory()
        return True

    def _make_room(self, error: OSError) -> bool:
        """Whether there is room now for the connection that could not be taken; else, said once, it waits for a while."""
        if error.errno in NO_ROOM and self._end_longest_idle():
            return True
        if not self._is_short:
            self.log.warning("no further connection can be taken: %s", error.strerror)
        self._is_short = True
        self._accept_again_s = time.monotonic() + ACCEPT_PAUSE_S
        return False

    def _end_longest_idle(self) -> bool:
        """Drop the connection that has said nothing for longest, where there is one."""
        connection = next((each for each in self._idle if each.is_silent()), None)
        if connection is None:
            return False
        self._drop(connection)
        return True

    def _attend(self, connection: Connection, step: Callable[[Connection], None]) -> None:
        """Take a step with a connection; a fault ends it, and no other."""
        try:
            step(connection)
        except Exception as error:
            self.log.error("a connection failed: %s", type(error).__name__, exc_info=error)
            self._drop(connection)

    def _poll(self, connection: Connection, events: int) -> None:
        """Have the poller wait for this of the connection, 0 for nothing; and note what it holds and whether it is idle."""
        self._held_bytes += connection.held_bytes - connection.noted_bytes
        connection.noted_bytes = connection.held_bytes
        if connection.phase is Phase.IDLE and events:
            self._idle.setdefault(connection)
        else:
            self._idle.pop(connection, None)
        if events == connection.events:
            return
        if events == 0:
            self._poller.unregister(connection.sock)
        elif connection.events == 0:
            self._poller.register(connection.sock, events, partial(self._on_event, connection))
        else:
            self._poller.modify(connection.sock, events, partial(self._on_event, connection))
        connection.events = events

    def _on_event(self, connection: Connection, events: int) -> None:
        if connection not in self._connections:
            return  # dropped since the poller saw it
        self._attend(connection, self._send_rest if connection.phase is Phase.ANSWER else self._read)

    def _read(self, connection: Connection) -> None:
        if not connection.receive():
            self._drop(connection)
        elif connection.phase is not Phase.LINGER:
            self._go_on(connection)

    def _go_on(self, connection: Connection) -> None:
        """Give a request that is whole to a thread, or wait for the rest of it."""
        before = connection.phase
        try:
            request = connection.next_request(self.cfg, self._body_limit_bytes)
        except (errors.ParseException, errors.NoMoreData, StopIteration) as error:
            self._refuse(connection, refusals.of_error(error))
            return
        except OSError:
            self._drop(connection)
            return
        if request is not None:
            self._hand_over(connection, request)
            return
        if connection.phase is not before:
            limit_s = self._time_max_s if connection.phase is Phase.BODY else min(HEAD_TIME_MAX_S, self._time_max_s)
            connection.deadline_s = time.monotonic() + limit_s
        self._poll(connection, selectors.EVENT_READ)

    def _bound_memory(self) -> None:
        """Where all take too much memory together, give up those whose time for coming, or for taking, is nearest its end."""
        if self._held_bytes <= self._held_bytes_max:
            return
        slow = [each for each in self._connections if each.phase in (Phase.HEAD, Phase.BODY, Phase.ANSWER)]
        for connection in sorted(slow, key=lambda each: each.deadline_s):
            if self._held_bytes <= self._held_bytes_max:
                return
            if connection.phase is Phase.ANSWER:
                self._drop(connection)
            else:
                self._refuse(connection, refusals.BUSY)

    def _hand_over(self, connection: Connection, request: Any) -> None:
        self._poll(connection, 0)
        now = time.monotonic()
        connection.phase, connection.deadline_s = Phase.WORK, now + self._time_max_s
        exchange = Exchange(connection, request, now, request.identity)
        if self._threads.waiting >= READY_MOST:
            self._refuse(connection, refusals.BUSY, exchange.identity)
            return
        connection.exchange = exchange
        self._threads.take(connection.exchange)
        self.nr += 1
        if self.nr >= self.max_requests and self.is_accepting:
            self.log.info("this worker has answered enough: it waits for its successor")
            self._tell_arbiter(LEAVING)

    def _take_finished(self, _: int) -> None:
        os.read(self.PIPE[0], 1 << 12)
        while self._threads.finished:
            exchange, phase = self._threads.finished.popleft()
            connection = exchange.connection
            if connection.exchange is exchange:
                connection.exchange = None
                self._attend(connection, partial(self._after_answer, phase=phase))

    def _after_answer(self, connection: Connection, phase: Phase | None) -> None:
        if phase is None:
            self._drop(connection)
            return
        connection.phase = phase
        if phase is Phase.ANSWER:
            connection.deadline_s = time.monotonic() + self._time_max_s
            self._poll(connection, selectors.EVENT_WRITE)
        else:
            connection.deadline_s = time.monotonic() + (self.cfg.keepalive if self.alive else STOP_IDLE_S)
            self._go_on(connection)

    def _send_rest(self, connection: Connection) -> None:
        try:
            if connection.send():
                self._after_answer(connection, Phase.IDLE if connection.keeps else None)
        except OSError:
            self._drop(connection)

    def _refuse(
        self, connection: Connection, refusal: Refusal, identity: Identity | None = None, *, count: bool = True
    ) -> None:
        """Answer in the application's place, say that nothing follows, and let the client read to the end."""
        answer = refusals.answer(refusal, identity or connection.identity, count=count)
        connection.phase, connection.deadline_s = Phase.LINGER, time.monotonic() + LINGER_S
        connection.forget()
        try:
            connection.send(answer)
            connection.sock.shutdown(socket.SHUT_WR)
        except OSError:
            self._drop(connection)
        else:
            self._poll(connection, selectors.EVENT_READ)

    def _drop(self, connection: Connection) -> None:
        connection.forget()
        with suppress(KeyError):  # the poller gave it up by itself
            self._poll(connection, 0)
        self._connections.discard(connection)
        connection.sock.close()

    # Time

    def _look_at_clocks(self, now: float) -> None:
        for connection in [each for each in self._connections if each.deadline_s <= now]:
            self._attend(connection, self._end_late)
        if self.is_accepting and self._threads.is_stuck(now - self._time_max_s - STUCK_AFTER_S):
            self.log.error("a request does not end: this worker finishes the others and is replaced")
            refusals.note(refusals.overdue(self._time_max_s))
            self._tell_arbiter(LEAVING)

    def _end_late(self, connection: Connection) -> None:
        if connection.phase is Phase.WORK:
            self._end_work(connection)
        elif connection.phase in (Phase.HEAD, Phase.BODY):
            self._refuse(connection, refusals.SLOW)
        else:
            self._drop(connection)

    def _end_work(self, connection: Connection) -> None:
        exchange = connection.exchange
        if exchange is None or not exchange.claim(MAIN):
            return  # its thread is about to answer
        connection.exchange = None
        # A thread that has it will tell the application, which counts and logs it when it comes to its end.
        is_begun = self._threads.has(exchange)
        self._refuse(connection, refusals.overdue(self._time_max_s), exchange.identity, count=not is_begun)
