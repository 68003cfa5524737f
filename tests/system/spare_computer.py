"""The book looked after, with the real programs: copied while the gateway writes, restored on a spare computer, read by
whoever is in its group, and pruned; judged over Modbus.

Called with the paths of kniferaild and kniferail.
"""
import os
import pathlib
import shutil
import subprocess
import time
import unittest

from gateway_rig import KNIFERAIL, TOLERANCE_UM, Gateway, GatewayTest, Plc, main

WEB, NINE, FIVE = 1200000, [125000] * 9, [230000] * 5
QUARTER_S = 15 * 60
NOBODY, A_GROUP = 65534, 54321


def book(*arguments):
    done = subprocess.run([KNIFERAIL, "book", *map(str, arguments)], capture_output=True, text=True, timeout=60, check=False)
    return done.returncode, done.stdout, done.stderr


class SpareComputer(GatewayTest):
    def restored(self, spare, copy):
        """A spare computer has no book; here a gateway has begun one, which is moved away with the files beside it."""
        self.assertEqual(spare.end(), 0)
        for old in spare.book.parent.glob("book.db*"):
            old.unlink()
        shutil.copy(copy, spare.book)
        self.assertEqual(book("check", "--book", spare.book)[0], 0)
        spare.start()

    def test_a_copy_made_while_the_gateway_runs_is_started_from_elsewhere_and_changes_over(self):
        """The steps of 'A spare computer' (config/pages/administrator.md), with the order that was in force when the copy was made."""
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(901, WEB, NINE), 0)
            plc.start_and_complete()
            session, copy = plc.seen("SESSION"), pathlib.Path(gateway.folder.name) / "copy.db"
            status, said, complaint = book("backup", "--config", gateway.config, copy)
            self.assertEqual((status, complaint), (0, ""))
            self.assertIn("sound and on the disk", said)
            self.assertEqual(plc.order(902, WEB, FIVE), 0)  # the gateway goes on, behind the copy
            began = time.monotonic()
            with Gateway(book=True) as spare:
                self.restored(spare, copy)
                plc = Plc(spare)
                self.assertEqual(plc.seen("SESSION"), session + 1)
                self.assertEqual((plc.read("ORDER_IN_FORCE"), plc.read("ORDER_STAGED")), (901, 0))
                self.assertEqual(plc.seen("LINE_STATUS") & 3, 0, "nothing is claimed of where holders are")
                self.assertEqual(plc.order(903, WEB, FIVE), 0)
                plc.start_and_complete()
                self.verified(plc, TOLERANCE_UM)
            self.assertLess(time.monotonic() - began, QUARTER_S)

    def test_a_copy_beside_the_count_of_a_later_book_is_refused_in_words(self):
        with Gateway(book=True) as gateway:
            copy = pathlib.Path(gateway.folder.name) / "copy.db"
            self.assertEqual(book("backup", "--book", gateway.book, copy)[0], 0)
            plc = Plc(gateway)
            self.assertEqual(plc.order(901, WEB, NINE), 0)
            self.assertEqual(gateway.end(), 0)
            shutil.copy(copy, gateway.book)
            with self.assertRaisesRegex(AssertionError, "an older copy.*remove the .lock file"):
                gateway.start()

    @unittest.skipUnless(os.geteuid() == 0, "only root can be somebody else")
    def test_who_is_in_the_books_group_reads_it_whether_or_not_the_gateway_runs(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(901, WEB, NINE), 0)
            self.assertEqual(gateway.end(), 0)
            folder = pathlib.Path(gateway.folder.name)
            os.chown(folder, 0, A_GROUP)
            folder.chmod(0o750)
            for file in folder.glob("book.db*"):
                os.chown(file, 0, A_GROUP)
            gateway.start()
            for running in (True, False):
                for command in (["history", "--book"], ["book", "check", "--book"]):
                    for group, allowed in ((A_GROUP, True), (NOBODY, False)):
                        done = subprocess.run([KNIFERAIL, *command, gateway.book], capture_output=True, text=True, timeout=60,
                                              check=False, user=NOBODY, group=group, extra_groups=[])
                        self.assertEqual(done.returncode, 0 if allowed else 1, f"{running} {command} {group}: {done.stderr}")
                        if not allowed:
                            self.assertIn("Permission denied", done.stderr)
                if running:
                    self.assertEqual(gateway.end(), 0)
            gateway.start()

    def test_nothing_is_pruned_under_a_gateway_and_what_would_go_is_told_first(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            for number in (901, 902, 903):
                self.assertEqual(plc.order(number, WEB, NINE), 0)
            status, _, complaint = book("prune", "--book", gateway.book, "--before", "2100", "--go-ahead")
            self.assertEqual(status, 1)
            self.assertIn("a gateway uses this book", complaint)
            self.assertEqual(gateway.end(), 0)
            status, said, _ = book("prune", "--book", gateway.book, "--before", "2100")
            self.assertEqual(status, 0)
            self.assertRegex(said, r"(?s)these rows would be deleted, because they are older than 2100:.*verdict +2 rows.*nothing is changed yet")
            status, said, _ = book("prune", "--book", gateway.book, "--before", "2100", "--go-ahead")
            self.assertEqual(status, 0)
            self.assertRegex(said, r"(?s)these rows were deleted, because they are older than 2100:.*verdict +2 rows")
            gateway.start()
            plc.close()
            plc.connect()
            plc.look()
            self.assertEqual(plc.read("ORDER_STAGED"), 903)

    def test_damage_of_the_history_is_told_in_the_log_and_the_stations_run(self):
        with Gateway(book=True) as gateway:
            plc = Plc(gateway)
            self.assertEqual(plc.order(901, WEB, NINE), 0)
            self.assertEqual(gateway.end(), 0)
            query = "SELECT rootpage FROM sqlite_schema WHERE name = 'changeover_move'"
            root = subprocess.run(["sqlite3", gateway.book, query], capture_output=True, text=True, timeout=20, check=True).stdout
            with open(gateway.book, "r+b") as file:
                file.seek(4096 * (int(root) - 1))
                file.write(b"\xa5" * 200)
            gateway.start()
            gateway.wait_for_log("its history: damaged")
            plc.close()
            plc.connect()
            plc.look()
            self.assertEqual(plc.read("ORDER_STAGED"), 901)


if __name__ == "__main__":
    main()
