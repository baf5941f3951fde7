"""A grammar of what plants write of safety devices in five languages: bad news, plain answers.

Written from how inspection sheets, punch lists, audits and action trackers are kept, not from the
program's list of words. All text is invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count, cycle, islice
from typing import NamedTuple

from sheetcheck.intake.grid import Area, Grid

# What each language calls the devices in a plain heading.
SUBJECTS = {
    "en": {
        "nip_guards": ("Nip guards", "Guards", "Pulley guards"),
        "emergency_stop": ("Emergency stop", "Pull cord", "E-stop"),
        "isolation_procedure": ("Isolation procedure", "Lockout procedure"),
        "tail_plough": ("Tail plough", "V-plough", "Plow"),
        "primary_cleaner": ("Primary cleaner", "Primary scraper"),
        "secondary_cleaner": ("Secondary cleaner", "Secondary scraper"),
        "alignment_switches": ("Belt alignment switches", "Misalignment switches"),
        "door_latch": ("Door latch", "Inspection door latch"),
        "door_gasket": ("Door gasket", "Door seal"),
        "door_barrier": ("Door barrier", "Mesh behind door"),
    },
    "de": {
        "nip_guards": ("Schutzeinrichtungen", "Schutz Einlaufstellen"),
        "emergency_stop": ("Reißleine", "Not-Halt"),
        "isolation_procedure": ("Freischaltanweisung",),
        "tail_plough": ("Innengurtabstreifer", "Pflugabstreifer"),
        "primary_cleaner": ("Vorabstreifer", "Kopfabstreifer"),
        "alignment_switches": ("Schieflaufschalter",),
    },
    "es": {
        "nip_guards": ("Guardas", "Protecciones"),
        "emergency_stop": ("Parada de emergencia",),
        "isolation_procedure": ("Procedimiento de bloqueo",),
        "tail_plough": ("Raspador en V", "Arado"),
        "primary_cleaner": ("Raspador primario", "Limpiador primario"),
    },
    "pt": {
        "nip_guards": ("Proteções",),
        "emergency_stop": ("Parada de emergência",),
        "isolation_procedure": ("Procedimento de bloqueio",),
        "tail_plough": ("Limpador em V",),
        "primary_cleaner": ("Raspador primário", "Limpador primário"),
    },
    "fr": {
        "nip_guards": ("Protecteurs", "Carters"),
        "emergency_stop": ("Arrêt d'urgence",),
        "isolation_procedure": ("Procédure de consignation",),
        "tail_plough": ("Racleur en V",),
        "primary_cleaner": ("Racleur primaire",),
    },
}
YES_NO = {
    "en": ("Y", "N", "Yes", "y"),
    "de": ("ja", "nein", "Ja", "j"),
    "es": ("Sí", "No", "si", "S"),
    "pt": ("Sim", "Não", "sim", "S"),
    "fr": ("Oui", "Non", "oui", "O"),
}

BAD_HEADINGS = {
    "en": (
        "No {}|{} missing|Missing {}|{} not fitted|Without {}|{} defective|{} broken|{} removed|"
        "{} required|{} overdue|{} to be fitted|Fit {}|{} damaged|Lacks {}|{} (missing)|"
        "{} - out of order|{} worn out|Replace {}|{} on order|{} expired|{} absent|"
        "{} outstanding|{} deficiency|{} needed|{} u/s|{} seized|Need {}|{} due|{}: action|"
        "{} never fitted|Not fitted: {}|{} (not in place)|{} planned|Repair {}|{} fault|"
        "{} isn't there|Conveyor has no {}|{} failed inspection|{} loose|{} not compliant|"
        "{} disabled|{} bypassed|Install {}|{} recommended|Order {}|{} out of service|"
        "{} none|{} to install|{} missing?|Any {} missing|{} N/A|{} removed for repair|"
        "{} absent (Y/N)"
    ),
    "de": (
        "Keine {}|{} fehlt|Fehlende {}|{} nicht vorhanden|Ohne {}|{} defekt|{} beschädigt|"
        "{} entfernt|{} erforderlich|{} überfällig|{} nachrüsten|{} abgebaut|{} verschlissen|"
        "{} bestellt|{} abgelaufen|{} geplant|{} außer Betrieb|Mangel {}|{} mangelhaft|"
        "{} nicht in Ordnung|{} reparieren|{} zu erneuern|{} (fehlt)|{} gebrochen|{} unvollständig"
    ),
    "es": (
        "Sin {}|{} faltante|Falta {}|{} no instalado|No hay {}|{} defectuoso|{} roto|{} retirado|"
        "{} requerido|{} vencido|{} por instalar|Instalar {}|{} dañado|Carece de {}|"
        "{} fuera de servicio|{} desgastado|Reemplazar {}|{} pendiente|{} ausente|{} (no tiene)|"
        "{} en mal estado|{} no funciona|No existe {}|{} necesario|{} averiado"
    ),
    "pt": (
        "Sem {}|{} faltando|Falta {}|{} não instalado|Não há {}|{} com defeito|{} quebrado|"
        "{} removido|{} necessário|{} vencido|{} a instalar|Instalar {}|{} danificado|"
        "{} fora de serviço|{} desgastado|Substituir {}|{} pendente|{} ausente|Não possui {}|"
        "{} inoperante|{} em falta|{} inexistente|{} atrasado|Ausência de {}"
    ),
    "fr": (
        "Pas de {}|{} manquant|Manque {}|{} non installé|Sans {}|{} défectueux|{} cassé|"
        "{} déposé|{} requis|{} périmé|{} à installer|Installer {}|{} endommagé|Absence de {}|"
        "{} hors service|{} usé|Remplacer {}|{} en retard|{} absent|{} à prévoir|{} non conforme|"
        "{} à réparer|Aucun {}|{} commandé|{} inexistant"
    ),
}
BAD_GROUPS = {
    "en": (
        "Deficiencies found|Missing|To be fitted|Defects|Outstanding|Action required|"
        "Not in place|Non-conformances|Overdue|Broken or removed|Punch items|Required|Faults|"
        "Snags|Out of order|Items missing|What is lacking|Repairs needed|Shortcomings|"
        "Safety defects|Not fitted|To install"
    ),
    "de": (
        "Mängel|Festgestellte Mängel|Fehlt|Fehlende Teile|Nachzurüsten|Defekt|Nicht vorhanden|"
        "Maßnahmen erforderlich|Überfällig|Abweichungen|Schäden"
    ),
    "es": (
        "Faltantes|Deficiencias|Defectos|No instalado|Por instalar|Pendiente|Acción requerida|"
        "No conformidades|Vencido|Averías|Falta"
    ),
    "pt": (
        "Faltando|Deficiências|Defeitos|Não instalado|A instalar|Pendente|Ação necessária|"
        "Não conformidades|Vencido|Avarias|Ausente"
    ),
    "fr": (
        "Manquants|Défauts|Déficiences|Non installé|À installer|En attente|Action requise|"
        "Non-conformités|En retard|Pannes|Absent"
    ),
}
BAD_TITLES = {
    "en": (
        "List of missing safety equipment|Deficiencies found on inspection|Conveyor defect list|"
        "Outstanding actions - conveyors|Equipment not fitted|Snag list, conveyors|"
        "Items to be installed|Overdue safety actions|Non-conformance register|"
        "Missing guards and stops|What each belt still lacks|Out of order safety devices"
    ),
    "de": (
        "Mängelliste Gurtförderer|Fehlende Schutzeinrichtungen|Liste der Mängel|"
        "Offene Maßnahmen Förderbänder|Nachzurüstende Einrichtungen|Defekte Einrichtungen"
    ),
    "es": (
        "Lista de equipos faltantes|Deficiencias encontradas|Acciones pendientes|"
        "Equipos no instalados|No conformidades de cintas|Defectos de seguridad"
    ),
    "pt": (
        "Lista de itens faltantes|Deficiências encontradas|Ações pendentes|"
        "Equipamentos não instalados|Não conformidades|Defeitos de segurança"
    ),
    "fr": (
        "Liste des équipements manquants|Défauts constatés|Actions en retard|"
        "Équipements non installés|Non-conformités des convoyeurs|Déficiences de sécurité"
    ),
}
BAD_SHEETS = {
    "en": "Missing items|Deficiencies|Action list|Snag list|Defects 2025|Outstanding|Not fitted",
    "de": "Mängel|Fehlteile|Nachrüstung",
    "es": "Faltantes|Deficiencias|Pendientes",
    "pt": "Faltantes|Deficiências|Pendências",
    "fr": "Manquants|Défauts|Non-conformités",
}
BAD_REMARKS = {
    "en": (
        "Y = missing|Y means not fitted|X marks what is missing|Tick if defective|"
        "Yes = action required|Y: device is absent|Mark the items that are missing|"
        "Enter Y where the device is broken|Y indicates a defect"
    ),
    "de": "ja = fehlt|ja bedeutet Mangel|Fehlendes ankreuzen",
    "es": "Sí = falta|Sí significa defecto|Marcar lo que falta",
    "pt": "Sim = falta|Sim significa defeito|Marcar o que falta",
    "fr": "Oui = manquant|Oui signifie défaut|Cocher ce qui manque",
}
BAD_CELLS = {
    "en": (
        "Y (seized)|yes - broken|fitted, removed 2024|due 2027|by 2026|draft|draft 2|on order|"
        "ordered|to be fitted|expired|overdue|planned 2026|Y - missing|yes, but removed|"
        "fitted - not working|removed|installed but broken|Y (out of order)|Y, worn out|"
        "fitted (defective)|in progress|to follow|required|needs replacing|none outstanding|"
        "no deficiencies|not before 2027|Y (to be fitted)|yes if funded|Y from 2027|"
        "should be|half|was fitted|Y/N|yes/no|order 4711|action 12|item 3|wk 40|Q2 2027|Jan 2027|"
        "WO-1234|exp 2023|rev 0 draft|due 03/2027|Y - not all|damaged|missing|no longer|"
        "scraper missing|plough removed|blade broken|plough to be fitted|cleaner on order"
    ),
    "de": (
        "ja (defekt)|ja - fehlt|abgebaut|bestellt|geplant 2027|Entwurf|überfällig|abgelaufen|"
        "in Arbeit|bis 2027|ja, aber kaputt|nachzurüsten|vorhanden, defekt|ja (außer Betrieb)|"
        "keine Mängel|fällig 2027|Abstreifer fehlt|erforderlich|mangelhaft"
    ),
    "es": (
        "sí (roto)|sí - falta|retirado|pedido|previsto 2027|borrador|vencido|pendiente|"
        "para 2027|sí, pero dañado|por instalar|instalado, roto|en proceso|"
        "sin deficiencias|vence 2027|raspador roto|requerido|faltante"
    ),
    "pt": (
        "sim (quebrado)|sim - falta|removido|pedido|previsto 2027|rascunho|vencido|pendente|"
        "até 2027|sim, mas danificado|a instalar|instalado, quebrado|em andamento|"
        "sem deficiências|vence 2027|raspador quebrado|necessário|faltando"
    ),
    "fr": (
        "oui (cassé)|oui - manque|déposé|commandé|prévu 2027|brouillon|périmé|en attente|"
        "avant 2027|oui, mais abîmé|à installer|installé, cassé|en cours|"
        "aucun défaut|échéance 2027|racleur cassé|requis|manquant"
    ),
}

PLAIN_HEADINGS = {
    "en": (
        "{}|{} fitted|{} (Y/N)|{}?|{} present|{} in place|{} installed|{} fitted (Y/N)|{} provided"
    ),
    "de": "{}|{} vorhanden|{} (J/N)|{}?|{} ja/nein",
    "es": "{}|{} (S/N)|{}?|Tiene {}|Hay {}",
    "pt": "{}|{} (S/N)|{}?|Tem {}|Há {}",
    "fr": "{}|{} (O/N)|{}?|{} en place|Y a-t-il {}",
}
PLAIN_GROUPS = {
    "en": "Safety|Equipment|Access and guarding|Safety devices|Conveyor",
    "de": "Sicherheit|Ausrüstung",
    "es": "Seguridad|Equipos",
    "pt": "Segurança|Equipamentos",
    "fr": "Sécurité|Équipements",
}
PLAIN_TITLES = {
    "en": (
        "Conveyor register 2025|Troughed belt conveyors, north yard|Belt list rev 4|"
        "Conveyor data sheet - do not scale|Issued for information, not for construction|"
        "Inspection of 12 March 2025|Plant: Elm Quarry, kept by the belt crew"
    ),
    "de": "Gurtförderer Stammdaten|Anlagenliste Stand 2025",
    "es": "Listado de cintas 2025|Registro de transportadores",
    "pt": "Cadastro de transportadores|Lista de correias 2025",
    "fr": "Liste des convoyeurs 2025|Registre des bandes",
}
PLAIN_REMARKS = {
    "en": "Y = fitted, N = not fitted|Y = yes, N = no|Blank: not recorded|Widths in mm",
    "de": "ja = vorhanden, nein = fehlt",
    "es": "S = sí, N = no",
    "pt": "S = sim, N = não",
    "fr": "O = oui, N = non",
}


class Sheet(NamedTuple):
    """One table: where its bad news stands, the field of each column, and the cells below."""

    kind: str
    name: str
    title: str
    remark: str
    group: str
    headings: tuple[tuple[str, str], ...]
    """(field, heading) of each column."""
    cells: tuple[str, ...]
    """The rows, alike in all columns."""


def _subjects(language: str, shift: int) -> list[tuple[str, str]]:
    return [(field, names[shift % len(names)]) for field, names in SUBJECTS[language].items()]


def _plain(language: str, shift: int) -> tuple[tuple[str, str], ...]:
    frames = PLAIN_HEADINGS[language].split("|")
    return tuple(
        (field, frames[(shift + at) % len(frames)].format(name))
        for at, (field, name) in enumerate(_subjects(language, shift))
    )


def bad_sheets() -> Iterator[Sheet]:
    """Every sheet says of every column that a yes is bad news, or holds cells that are none."""
    for language in SUBJECTS:
        yes = YES_NO[language]
        where = cycle(("Conveyors", "Sheet1", "Register"))
        for shift, frame in enumerate(BAD_HEADINGS[language].split("|")):
            bad = tuple((field, frame.format(name)) for field, name in _subjects(language, shift))
            yield Sheet("heading", next(where), "", "", "", bad, (yes[0], yes[2], yes[0]))
        for shift, group in enumerate(BAD_GROUPS[language].split("|")):
            plain = _plain(language, shift)
            yield Sheet("group", next(where), "", "", group, plain, (yes[0], yes[1], yes[2]))
        for shift, title in enumerate(BAD_TITLES[language].split("|")):
            plain = _plain(language, shift)
            yield Sheet("title", next(where), title, "", "", plain, (yes[0], yes[1], yes[3]))
        for shift, name in enumerate(BAD_SHEETS[language].split("|")):
            plain = _plain(language, shift)
            yield Sheet("sheet", name, "", "", "", plain, (yes[0], yes[1], yes[3]))
        for shift, remark in enumerate(BAD_REMARKS[language].split("|")):
            first = "x" if "X" in remark or "Tick" in remark or "Mar" in remark else yes[0]
            cells = (first, yes[1], first)
            yield Sheet("remark", next(where), "", remark, "", _plain(language, shift), cells)
        cells = iter(BAD_CELLS[language].split("|"))
        for shift in count():
            some = tuple(islice(cells, 5))
            if not some:
                break
            yield Sheet("cell", next(where), "", "", "", _plain(language, shift), some)


def plain_sheets() -> Iterator[Sheet]:
    """Every sheet says plainly what is fitted: the first and third rows yes, the second no."""
    for language in SUBJECTS:
        yes = YES_NO[language]
        groups = PLAIN_GROUPS[language].split("|")
        titles = PLAIN_TITLES[language].split("|")
        remarks = PLAIN_REMARKS[language].split("|")
        for shift in range(36 if language == "en" else 24):
            yield Sheet(
                "plain",
                ("Conveyors", "Register", "Belts")[shift % 3],
                titles[shift % len(titles)] if shift % 4 else "",
                remarks[shift % len(remarks)] if shift % 3 == 0 else "",
                groups[shift % len(groups)] if shift % 2 else "",
                _plain(language, shift),
                (yes[0], yes[1], yes[2 + shift % 2]),
            )


def grid_of(sheet: Sheet, name: str, first: int) -> Grid:
    """The sheet as the reader holds it; its conveyors are numbered from `first` on."""
    width = 2 + len(sheet.headings)
    rows: list[list[object]] = []
    merged = []
    for line in (sheet.title, sheet.remark if first % 2 else ""):
        if line:
            rows += [[line] + [""] * (width - 1), [""] * width]
    if sheet.group:
        rows.append(["", "", sheet.group] + [""] * (width - 3))
        merged.append(Area(len(rows) - 1, 2, len(rows) - 1, width - 1))
        rows[-1][:2] = ["Conveyor", ""]
    rows.append(["Tag", "Belt width mm", *(heading for _, heading in sheet.headings)])
    for at, cell in enumerate(sheet.cells):
        rows.append([f"CV-{first + at:05d}", 1200.0] + [cell] * len(sheet.headings))
    if sheet.remark and not first % 2:
        rows += [[""] * width, [sheet.remark] + [""] * (width - 1)]
    return Grid(name, rows, merged)  # type: ignore[arg-type]
