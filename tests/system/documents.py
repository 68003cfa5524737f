"""The documents against themselves: every link leads to a file and a heading that are there, and every answer that questions.md
names stands under a heading of its page.

    documents.py
"""
import pathlib
import re
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
DOCUMENTS = sorted(path for pattern in ("*.md", "config/*/*.md", "tests/*.md", "sim/*.md", "src/*/README.md")
                   for path in ROOT.glob(pattern))
QUESTIONS = ROOT / "tests/questions.md"


def without_code(path):
    return re.sub(r"(?ms)^```.*?^```$|^    .*?$", "", path.read_text(encoding="utf-8"))


def headings(path):
    return re.findall(r"(?m)^#+ (.*)$", without_code(path))


def anchor(heading):
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


class Documents(unittest.TestCase):
    def test_every_link_leads_somewhere(self):
        followed = 0
        for document in DOCUMENTS:
            for link in re.findall(r"\]\(([^)\s]*(?:\s[^)\s]*)?)\)", without_code(document)):
                path, _, place = re.sub(r"\s", "", link).partition("#")
                if "://" in link:
                    continue
                followed += 1
                target = (document.parent / path).resolve() if path else document
                self.assertTrue(target.exists(), f"{document.relative_to(ROOT)}: no file {link}")
                if place:
                    self.assertIn(place, map(anchor, headings(target)), f"{document.relative_to(ROOT)}: no heading {link}")
        self.assertGreater(followed, 100)

    def test_every_question_names_headings_that_are_there(self):
        rows = re.findall(r"(?m)^\| (\d+) \| (.*?) \| (.*) \|$", QUESTIONS.read_text(encoding="utf-8"))
        self.assertEqual([int(number) for number, _, _ in rows], list(range(1, len(rows) + 1)))
        for number, question, places in rows:
            where = re.findall(r"`([^`]*\.md)`: ((?:\*[^*]+\*(?:; )?)+)", places)
            self.assertTrue(where, f"{number}: {places}")
            self.assertTrue(question.endswith(("?", ".")), question)
            for page, names in where:
                there = headings(ROOT / page)
                for name in re.findall(r"\*([^*]+)\*", names):
                    self.assertTrue(any(h == name or h.startswith(name + ":") for h in there), f"{number}: {page} has no heading {name}")


if __name__ == "__main__":
    unittest.main()
