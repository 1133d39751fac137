"""A broker of messages on 127.0.0.1, which can go and come back, and a sensor that sends.

MQTT 3.1.1 as far as these tests need it: messages acknowledged at every hop (quality of
service 1), sessions that outlast a connection and the broker's own absence, what was not
acknowledged sent again.
"""

import json
import socket
import struct
import threading
from collections import OrderedDict, deque
from contextlib import suppress
from dataclasses import dataclass, field

CONNECT, CONNACK, PUBLISH, PUBACK, SUBSCRIBE, SUBACK = 1, 2, 3, 4, 8, 9
PINGREQ, PINGRESP, DISCONNECT = 12, 13, 14
IN_FLIGHT = 20


@dataclass
class Session:
    topics: set = field(default_factory=set)
    waiting: deque = field(default_factory=deque)
    flying: OrderedDict = field(default_factory=OrderedDict)
    last: int = 0
    line: socket.socket | None = None


def length_of(count):
    out = bytearray()
    while True:
        count, byte = divmod(count, 128)
        out.append(byte | (0x80 if count else 0))
        if not count:
            return bytes(out)


def packet(kind, flags, body=b""):
    return bytes([kind << 4 | flags]) + length_of(len(body)) + body


def text(words):
    return struct.pack("!H", len(words)) + words


def exactly(line, count):
    data = b""
    while len(data) < count:
        piece = line.recv(count - len(data))
        if not piece:
            raise ConnectionError
        data += piece
    return data


def read(line):
    head, count, shift = exactly(line, 1)[0], 0, 0
    while True:
        byte = exactly(line, 1)[0]
        count |= (byte & 0x7F) << shift
        shift += 7
        if not byte & 0x80:
            return head >> 4, head & 15, exactly(line, count)


class TestBroker:
    """The broker; sessions stay in it while it is away."""

    __test__ = False

    def __init__(self):
        self.sessions, self.lock, self.lines = {}, threading.RLock(), []
        with socket.socket() as there:
            there.bind(("127.0.0.1", 0))
            self.port = there.getsockname()[1]

    def __enter__(self):
        self.start()
        return self

    def __exit__(self, *_):
        self.stop()

    def start(self):
        self.door = socket.create_server(("127.0.0.1", self.port))
        threading.Thread(target=self._welcome, args=(self.door,), daemon=True).start()

    def stop(self):
        """Without a word to anybody, as a cut of the power."""
        self.door.close()
        with suppress(OSError):  # wakes the waiting accept
            socket.create_connection(("127.0.0.1", self.port), 0.2).close()
        with self.lock:
            for line in self.lines:
                with suppress(OSError):
                    line.shutdown(socket.SHUT_RDWR)
                line.close()
            self.lines = []

    def _welcome(self, door):
        while True:
            try:
                line, _ = door.accept()
            except OSError:
                return
            with self.lock:
                self.lines.append(line)
            threading.Thread(target=self._serve, args=(line,), daemon=True).start()

    def _serve(self, line):
        session = None
        with line, suppress(OSError, ConnectionError):
            while True:
                kind, flags, body = read(line)
                with self.lock:
                    if kind == CONNECT:
                        session = self._connect(line, body)
                    elif kind == PUBLISH:
                        self._published(line, flags, body)
                    elif kind == PUBACK:
                        session.flying.pop(struct.unpack("!H", body)[0], None)
                        self._send(session)
                    elif kind == SUBSCRIBE:
                        self._subscribe(line, session, body)
                    elif kind == PINGREQ:
                        line.sendall(packet(PINGRESP, 0))
                    elif kind == DISCONNECT:
                        return

    def _connect(self, line, body):
        clean = body[7] & 2
        size = struct.unpack("!H", body[10:12])[0]
        name = body[12 : 12 + size]
        there = name in self.sessions and not clean
        session = self.sessions[name] if there else self.sessions.setdefault(name, Session())
        session.line = line
        line.sendall(packet(CONNACK, 0, bytes([int(there), 0])))
        for number, (topic, payload) in session.flying.items():
            line.sendall(packet(PUBLISH, 0b1010, text(topic) + struct.pack("!H", number) + payload))
        self._send(session)
        return session

    def _published(self, line, flags, body):
        size = struct.unpack("!H", body[:2])[0]
        topic, rest = body[2 : 2 + size], body[2 + size :]
        if flags & 0b110:
            line.sendall(packet(PUBACK, 0, rest[:2]))
            rest = rest[2:]
        for session in self.sessions.values():
            if any(topic.startswith(each.rstrip(b"#")) for each in session.topics):
                session.waiting.append((topic, rest))
                self._send(session)

    def _subscribe(self, line, session, body):
        at, granted = 2, b""
        while at < len(body):
            size = struct.unpack("!H", body[at : at + 2])[0]
            session.topics.add(body[at + 2 : at + 2 + size])
            at += size + 3
            granted += b"\x01"
        line.sendall(packet(SUBACK, 0, body[:2] + granted))

    def _send(self, session):
        """What waits, as far as it may fly."""
        try:
            while session.waiting and len(session.flying) < IN_FLIGHT:
                topic, payload = session.waiting.popleft()
                session.last = session.last % 65_535 + 1
                session.flying[session.last] = (topic, payload)
                number = struct.pack("!H", session.last)
                session.line.sendall(packet(PUBLISH, 0b0010, text(topic) + number + payload))
        except OSError:
            pass


class Sensor:
    """Sends a message a second of its own clock, each acknowledged by the broker."""

    def __init__(self, broker, name="sensor"):
        from paho.mqtt import client as mqtt
        from paho.mqtt.enums import CallbackAPIVersion

        self.client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=name, clean_session=False)
        self.client.max_queued_messages_set(0)
        self.client.max_inflight_messages_set(200)
        self.client.reconnect_delay_set(1, 1)
        self.client.connect("127.0.0.1", broker.port)
        self.client.loop_start()
        self.sent = 0

    def send(self, count, *, wait=60.0):
        for _ in range(count):
            at = 1_752_000_000 + self.sent
            said = {"time": at, "temp_c": 10 + self.sent % 17, "humidity": 40 + self.sent % 11}
            last = self.client.publish("farm/yard", json.dumps(said), qos=1)
            self.sent += 1
        if wait:
            last.wait_for_publish(wait)

    def close(self):
        self.client.disconnect()
        self.client.loop_stop()
