"""The ledger of knives at the real daemon: a knife's whole life by `kniferail set` and over Modbus, what `kniferail knives`
tells of it, and a gateway that is killed at any moment of such requests.

    daemon_knives.py KNIFERAILD KNIFERAIL
"""
import csv
import io
import json
import random
import signal
import sqlite3
import subprocess
import time

from gateway_rig import KNIFERAIL, MAP, Gateway, GatewayTest, Plc, main

KILLS = 20


def ask(gateway, *arguments):
    return subprocess.run([KNIFERAIL, "set", "--port", str(gateway.port), *map(str, arguments)], capture_output=True, text=True,
                          timeout=30, check=False)


def knives(gateway, *arguments):
    return subprocess.run([KNIFERAIL, "knives", *map(str, arguments), "--config", gateway.config], capture_output=True, text=True,
                          timeout=30, check=False)


def listed(gateway):
    answer = knives(gateway, "list", "--format", "csv")
    assert answer.returncode == 0, answer.stderr
    return {row["name"]: row for row in csv.DictReader(io.StringIO(answer.stdout))}


def life(gateway, *which):
    return json.loads(knives(gateway, "life", *which, "--format", "json").stdout)["life"]


def text_words(name, text):
    data = text.encode("ascii").ljust(2 * MAP.register[name]["n"], b"\0")
    return [data[i] << 8 | data[i + 1] for i in range(0, len(data), 2)]


class Knives(GatewayTest):
    def accepted(self, gateway, *arguments):
        answer = ask(gateway, *arguments)
        self.assertEqual((answer.returncode, answer.stderr), (0, ""), arguments)
        return answer.stdout

    def refused(self, gateway, *arguments, because):
        answer = ask(gateway, *arguments)
        self.assertEqual((answer.returncode, answer.stdout), (1, ""), arguments)
        self.assertRegex(answer.stderr, because)

    def test_a_life_from_entry_to_scrap_is_told_whole(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            offset_um = plc.read("HOLDER_OFFSET", 0, 2)
            told = self.accepted(gateway, "enter", "K-17", "upper 130", "130", "5", f"{offset_um} um", 2500)
            self.assertIn("in the ledger, on the shelf", told)
            self.refused(gateway, "enter", "K-17", "upper 130", "130", "5", because="has a knife of this name already")
            self.refused(gateway, "mount", 1, 3, "K-71", because="no knife of this name")
            told = self.accepted(gateway, "mount", "1/3", "K-17")
            self.assertRegex(told, r"rail 1, holder 3: in service, .*\(unproven\), 2500 m cut")
            self.refused(gateway, "mount", 1, 4, "K-17", because="not where the request needs it; it is in place 1")
            self.assertEqual(plc.read("HOLDER_KNIFE", 0, 2), 1)
            self.accepted(gateway, "dismount", "1/3", "grinder")
            self.assertEqual((plc.read("HOLDER_KNIFE", 0, 2), plc.read("HOLDER_STATE", 0, 2)), (0, 1))
            self.accepted(gateway, "reground", "K-17", "129.4", "-", f"{offset_um + 100} um")
            self.accepted(gateway, "mount", 1, 3, "K-17")
            self.assertEqual((plc.read("HOLDER_OFFSET", 0, 2), plc.read("HOLDER_METRES", 0, 2)), (offset_um + 100, 0))
            self.accepted(gateway, "broken", "1/3", "crash", "missing")
            self.accepted(gateway, "scrap", "K-17")
            self.assertEqual(listed(gateway)["K-17"]["place"], "scrapped")
            told = life(gateway, "K-17")
            self.assertEqual([row["event"] for row in told], ["enter", "mount", "dismount", "reground", "mount", "broken", "scrap"])
            self.assertEqual([row["metres"] for row in told], [2500, 2500, 2500, 2500, 0, 0, 0])
            self.assertEqual((told[3]["diameter_before_um"], told[3]["diameter_um"]), (130000, 129400))
            self.assertEqual((told[5]["cause"], told[5]["fragments"], told[5]["place"]), ("crash", "missing", "broken"))
            self.assertTrue(all(row["origin"] == "127.0.0.1" for row in told))
            shown = knives(gateway, "list").stdout
            self.assertRegex(shown, r"K-17 +upper 130 +scrapped .* 129\.400 ")
            answer = knives(gateway, "life", "K-71")
            self.assertEqual((answer.returncode, answer.stdout), (1, ""))
            self.assertIn("the ledger has nothing about 'K-71'", answer.stderr)

    def test_a_swap_of_equal_values_and_a_knife_called_like_a_place(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            size, offset_um = plc.read("HOLDER_SIZE", 0, 2), plc.read("HOLDER_OFFSET", 0, 2)
            self.accepted(gateway, "swap", 1, 3, size, f"{offset_um} um")
            self.assertEqual([(row["event"], row["name"], row["holder"]) for row in life(gateway)], [("swap", None, 3)])
            self.accepted(gateway, "enter", "1/3", "a,\"b", "-", "-")
            self.refused(gateway, "scrap", "1/3", because="has no knife of the ledger")
            self.accepted(gateway, "scrap", "=1/3")
            self.assertEqual(listed(gateway)["1/3"]["kind"], 'a,"b')

    def test_over_modbus_as_an_hmi_writes_it_and_what_is_no_request(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            plc.write_words(MAP.address("EDIT_KNIFE"), text_words("EDIT_KNIFE", "blue 4") + text_words("EDIT_KNIFE_KIND", "lower"))
            plc.write("EDIT_KNIFE_DIAMETER", 90000)
            plc.write("EDIT_KNIFE_METRES", 1200)
            plc.write("EDIT_KNIFE_GIVEN", 1 << MAP.number("EDIT_KNIFE_GIVEN", "METRES"))
            self.assertEqual(plc.edit("ENTER", 0), 0)
            self.assertEqual(plc.edit("ENTER", 0), MAP.result["KNIFE_KNOWN"])
            self.assertEqual(plc.edit("MOUNT", 1, 2), MAP.result["KNIFE_EDGE"])  # none is made of the diameter
            self.assertEqual((listed(gateway)["blue 4"]["metres"], listed(gateway)["blue 4"]["edge_um"]), ("1200", ""))
            plc.write("EDIT_KNIFE_GIVEN", 4)
            self.assertEqual(plc.edit("MOUNT", 1, 2), MAP.result["KNIFE_FIGURE"])
            plc.write_words(MAP.address("EDIT_KNIFE"), text_words("EDIT_KNIFE", "bl\x01e"))
            self.assertEqual(plc.edit("MOUNT", 1, 2), MAP.result["KNIFE_NAME"])
            for arguments in (("mount", 1, 3), ("enter", "x" * 25, "k", "-", "-"), ("dismount", "1/3", "floor"), ("broken", "1/3", "bad luck", "missing"),
                              ("mount", 1, 3, "K", "-", "-5")):
                answer = ask(gateway, *arguments)
                self.assertEqual((answer.returncode, answer.stdout), (2, ""), arguments)

    def test_a_gateway_killed_at_any_moment_has_holder_and_ledger_agree(self):
        rng = random.Random(21)
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            offset_um = plc.read("HOLDER_OFFSET", 0, 2)
            self.accepted(gateway, "enter", "K-1", "upper", "130", "5", f"{offset_um} um", 100)
            kept = 0
            for _ in range(KILLS):
                was, events = self.where(gateway, plc)
                plc.write_words(MAP.address("EDIT_KNIFE"), text_words("EDIT_KNIFE", "K-1"))
                plc.write("EDIT_KNIFE_TO", MAP.number("EDIT_KNIFE_TO", "SHELF"))
                plc.hand_over_edit("DISMOUNT" if was else "MOUNT", 1, 3)
                time.sleep(rng.uniform(0, 0.03))
                gateway.end(signal.SIGKILL)
                plc.close()
                gateway.start()
                plc = Plc(gateway)
                now, events_now = self.where(gateway, plc)
                kept += now != was
                self.assertEqual(events_now - events, now != was)
                self.assertEqual(plc.read("HOLDER_METRES", 0, 2), 100 if now else 0)
            print(f"{kept} of {KILLS} requests were stored before the kill")
            self.assertEqual(subprocess.run([KNIFERAIL, "book", "check", "--book", gateway.book], capture_output=True, timeout=30,
                                            check=False).returncode, 0)

    def where(self, gateway, plc):
        """Whether the knife is on the holder, by the station and by the book, and how many events there are."""
        on_holder = plc.read("HOLDER_KNIFE", 0, 2) == 1
        with sqlite3.connect(f"file:{gateway.book}?mode=ro", uri=True) as book:
            place, rail, holder = book.execute("SELECT place, rail, holder FROM knife").fetchone()
            events = book.execute("SELECT count(*) FROM knife_event").fetchone()[0]
        self.assertEqual((place, rail, holder), (1, 1, 3) if on_holder else (2, 0, 0))
        return on_holder, events


if __name__ == "__main__":
    main()
