"""Further trade names of a fit sheet's items, tubes and columns: English, German, French, Italian, Dutch.

Common practice, no source. A name stands here once; `items.py` holds each item's first names. Umlauts may be written
ae, oe, ue. Names with two meanings stand in `AMBIGUOUS`, with what to write instead.
"""

from collections.abc import Mapping

# Items whose value is a text -> all their names.
TEXT_NAMES: Mapping[str, str] = {
    "name": "name, frame, bicycle, model, title, Rahmen",
    "bicycle_type": "bicycle type, type of bicycle, ISO 4210 type, Fahrradtyp, Radtyp",
    "plan": "plan, frame plan, kind of frame, frame type, Rahmenform, Rahmenart, type de cadre, forma del telaio",
    "joining": "joined, frame joined, joining, way of joining, joints, Fügeart, verbunden",
    "fork_convention": "fork length convention, fork convention",
    "fork_type": "fork type, type of fork, Gabelart, type de fourche, tipo di forcella",
    "suspension_state": "dimensions hold, geometry holds, geometry stated, frame dimensions hold, Geometrie gilt",
    "front_rack": "front rack, lowrider, front lowrider, low rider, Lowrider vorn, porte-bagages avant",
    "rear_rack": "rear rack, rack, luggage rack, carrier, Gepäckträger, porte-bagages, portapacchi, bagagedrager",
    "front_axle_standard": "front axle standard, axle standard front",
    "rear_axle_standard": "rear axle standard, axle standard rear",
}

# Item -> further names.
ITEM_NAMES: Mapping[str, str] = {
    "name": "Modell, Rahmenname, frame name, bike, bike name, bicycle name, nom, modèle, cadre, nome, modello, telaio, "
    "naam, fiets",
    "bicycle_type": "bike type, type of bike, bike category, bicycle category, Fahrradart, Art des Fahrrads, "
    "type de vélo, tipo di bici, tipo di bicicletta, fietstype, soort fiets",
    "front_axle_standard": "front axle, Achsstandard vorn",
    "rear_axle_standard": "rear axle, Achsstandard hinten",
    "joining": "how joined, tubes joined, joined by, frame construction, Rahmen gefügt, Rahmen verbunden, "
    "mode d'assemblage, cadre assemblé, tipo di giunzione, telaio unito, wijze van verbinden, frame verbonden",
    "fork_convention": "Gabellänge gemessen, fork length measured",
    "reach": "frame reach, portée, reach telaio",
    "stack": "frame stack, stack height, hauteur stack, stack telaio",
    "head_angle": "HT angle, steering head angle, Steuerkopfwinkel, Lenkungswinkel, angle de direction, "
    "angle de douille, angle tube de direction, angle du tube de direction, angolo sterzo, "
    "angolo di sterzo, angolo tubo sterzo, balhoofdhoek, balhoofdbuishoek, stuurhoek",
    "seat_angle": "ST angle, Sattelrohrwinkel, angle de selle, angle tube de selle, angle du tube de selle, "
    "angolo sella, angolo tubo sella, angolo piantone, zithoek, zitbuishoek, zadelbuishoek",
    "bb_drop": "Innenlagerabsenkung, Tretlager Absenkung, Tretlagerdrop, descente de boîtier, "
    "descente boîtier, abaissement boîtier, drop boîtier, abbassamento movimento centrale, "
    "abbassamento scatola, drop movimento centrale, bracketverlaging, bracketdrop, trapasverlaging",
    "bb_height": "Innenlagerhöhe, Höhe Tretlager, hauteur de boîtier, hauteur boîtier, hauteur de pédalier, "
    "hauteur boîtier de pédalier, altezza movimento centrale, altezza scatola, brackethoogte, "
    "trapashoogte",
    "chainstay": "CS length, chainstays length, Kettenstreben, Hinterbau, bases, longueur de bases, "
    "longueur des bases, longueur bases, foderi orizzontali, lunghezza foderi, "
    "lunghezza foderi orizzontali, carro, carro posteriore, lunghezza carro, liggende achtervork, "
    "lengte liggende achtervork, achtervork, achtervorklengte",
    "head_tube": "HT length, head length, Steuerkopf, Steuerkopflänge, Steuerkopfrohr, Lenkkopf, Lenkkopfrohr, "
    "Lenkkopflänge, Länge Steuerrohr, tube de direction, longueur tube de direction, "
    "douille de direction, longueur de douille, tubo sterzo, lunghezza tubo sterzo, canotto sterzo, "
    "canotto di sterzo, balhoofdbuis, balhoofdbuislengte, balhoofd, balhoofdlengte",
    "lower_stack": "lower headset stack height, lower stack height, headset lower, lower cup, lower cup height, "
    "headset lower cup, lower headset cup, headset bottom, bottom cup, lower headset cup height, "
    "Steuersatz unterer, Steuersatz untere Schale, Steuerlager unten, untere Lagerschale, "
    "Lagerschale unten, Steuersatzhöhe unten, unterer Steuersatz, cuvette inférieure, cuvette basse, "
    "jeu de direction inférieur, calotta inferiore, serie sterzo inferiore, balhoofdstel onder, "
    "onderste balhoofdstel, onderste cup",
    "fork_length": "Gabellänge entlang der Achse, Gabellänge entlang der Lenkachse, Gabellänge längs der Achse",
    "axle_to_crown_straight": "axle to crown direct, A-C direct, Gabellänge gerade, longueur de fourche directe, "
    "axle to crown length, axle to crown race, crown to axle, crown race to axle, fork A-C, fork ATC, "
    "fork axle to crown, Gabelbauhöhe, Gabeleinbauhöhe, Gabel Einbauhöhe, Einbauhöhe, Einbauhöhe Gabel, "
    "Einbaulänge Gabel, Bauhöhe Gabel, inbouwhoogte, inbouwhoogte vork",
    "fork_offset": "fork rake offset, rake offset, Gabelvorlauf, Gabel Offset, Gabelbiegung, déport, "
    "déport de fourche, déport fourche, offset de fourche, rake forcella, offset forcella, "
    "avanzamento forcella, vorksprong, sprong, vorkoffset",
    "trail": "fork trail, Gabelnachlauf, chasse, chasse au sol, avancorsa, naloop",
    "mechanical_trail": "chasse mécanique, mechanischer Nachlauf, avancorsa meccanica",
    "wheelbase": "Achsabstand, Achsstand, empattement, interasse, passo, wielbasis",
    "front_center": "avant-centre direct, front centre c-c",
    "front_center_horizontal": "avant-centre horizontal",
    "effective_top_tube": "ETT length, effective TT, eff top tube, TT eff, TT horizontal, horizontal top tube length, "
    "virtual top tube length, Oberrohr effektiv, Oberrohrlänge effektiv, Oberrohr virtuell, "
    "virtuelles Oberrohr, Oberrohrlänge virtuell, virtuelle Oberrohrlänge, "
    "horizontale Oberrohrlänge, horizontales Oberrohr, effektives Oberrohr, "
    "tube supérieur effectif, tube supérieur virtuel, tube horizontal virtuel, "
    "tube supérieur horizontal, longueur horizontale virtuelle, orizzontale virtuale, "
    "tubo orizzontale virtuale, tubo superiore effettivo, lunghezza orizzontale virtuale, "
    "effectieve bovenbuis, effectieve bovenbuislengte, horizontale bovenbuis, "
    "horizontale bovenbuislengte, virtuele bovenbuis",
    "seat_tube": "ST length c-t, Sitzrohr Mitte Oberkante, Sitzrohr Mitte-Ende, Sitzrohrlänge Mitte-Ende, "
    "Sitzrohrlänge M-OK, Rahmenhöhe Mitte Oberkante, Rahmenhöhe M-OK, Sattelrohr Mitte Oberkante, "
    "tube de selle axe-sommet, tube de selle centre-haut, tube de selle axe haut, "
    "piantone centro-fine, piantone c-f, zitbuis hart-boven, zitbuis hart-top, zitbuis h-t",
    "top_tube_on_seat_tube": "top tube at seat tube, TT on ST, TT at ST, top tube height at seat tube, "
    "BB to top tube, bottom bracket to top tube, ST length c-c, "
    "Oberrohr am Sitzrohr, Oberrohr auf Sitzrohr, Oberrohr an Sitzrohr, "
    "Oberrohr auf dem Sitzrohr, Oberrohrhöhe am Sitzrohr, Höhe Oberrohr am Sitzrohr, "
    "Sitzrohr Mitte Mitte, Sitzrohrlänge M-M, Rahmenhöhe Mitte Mitte, Rahmenhöhe M-M, "
    "tube de selle axe-axe, tube de selle centre-centre, "
    "tube supérieur sur tube de selle, piantone centro-centro, piantone c-c, "
    "tubo orizzontale sul piantone, zitbuis hart-hart, bovenbuis op zitbuis",
    "seat_tube_extension": "seat tube stub, seat tube stickup, seat tube above TT, Sitzrohrüberstand, "
    "Sitzrohr über Oberrohr, Sitzrohr oberhalb Oberrohr, dépassement tube de selle",
    "top_tube_slope_deg": "TT angle, top tube sloping, Oberrohrwinkel, Oberrohrgefälle, Oberrohr Neigung, "
    "pente tube supérieur, inclinaison tube supérieur, inclinazione tubo orizzontale, "
    "helling bovenbuis",
    "top_tube_cc": "actual top tube, actual top tube length, top tube length actual, real top tube, "
    "Oberrohr Mitte Mitte, Oberrohrlänge Mitte Mitte, Oberrohrlänge tatsächlich, "
    "tube supérieur axe-axe, tube supérieur réel, tubo orizzontale centro-centro, "
    "tubo orizzontale c-c, bovenbuis hart-hart",
    "top_tube_below_head_top": "TT below HT top, top tube to head tube top, top tube to top of head tube, "
    "Oberrohr unter Steuerrohr oben, Oberrohr unter Steuerrohr Oberkante, "
    "Oberrohr unter Steuerkopf oben, Abstand Oberrohr Steuerrohr oben, "
    "tube supérieur sous haut de douille, bovenbuis onder balhoofd boven",
    "down_tube_above_head_bottom": "DT above HT bottom, down tube to head tube bottom, "
    "down tube to bottom of head tube, Unterrohr über Steuerrohr unten, "
    "Unterrohr über Steuerrohr Unterkante, Unterrohr über Steuerkopf unten, "
    "Abstand Unterrohr Steuerrohr unten, tube diagonal sur bas de douille, "
    "onderbuis boven balhoofd onder",
    "seatstay_below_top_tube": "SS below TT, seatstay below TT, Sitzstreben unter Oberrohr, Sitzstrebe unterhalb "
    "Oberrohr, haubans sous tube supérieur, pendenti sotto tubo orizzontale",
    "down_tube_cc": "Unterrohr Mitte Mitte, Unterrohrlänge, longueur tube diagonal, lunghezza tubo obliquo, "
    "onderbuislengte",
    "seatstay_cc": "SS length, Sitzstrebenlänge, longueur haubans, lunghezza pendenti",
    "rear_hub_spacing": "rear axle spacing, rear hub width, hub rear, hub spacing rear, rear dropout width, "
    "rear end spacing, OLD rear, OLD hinten, Nabe hinten, Hinterradnabe, Hinterrad Einbaubreite, "
    "Einbaumaß hinten, Achsbreite hinten, Klemmbreite hinten, Nabeneinbaubreite hinten, "
    "entraxe arrière, moyeu arrière, largeur moyeu arrière, écartement arrière, "
    "écartement moyeu arrière, battuta posteriore, battuta mozzo posteriore, mozzo posteriore, "
    "inbouwbreedte achter, naafbreedte achter, achternaaf",
    "front_hub_spacing": "front axle spacing, front hub width, hub front, hub spacing front, front dropout width, "
    "OLD front, OLD vorn, Nabe vorn, Vorderradnabe, Vorderrad Einbaubreite, Einbaumaß vorn, "
    "Achsbreite vorn, Klemmbreite vorn, Nabeneinbaubreite vorn, entraxe avant, moyeu avant, "
    "largeur moyeu avant, écartement avant, écartement moyeu avant, battuta anteriore, "
    "battuta mozzo anteriore, mozzo anteriore, inbouwbreedte voor, naafbreedte voor, voornaaf",
    "bb_shell_width": "bottom bracket width, bottom bracket shell length, Tretlagergehäuse, Tretlagergehäuse Breite, "
    "Gehäusebreite, Innenlagerbreite, Innenlagergehäuse, Innenlagergehäusebreite, "
    "boîtier de pédalier, boîte de pédalier, largeur boîtier, largeur boîtier de pédalier, "
    "largeur boîte de pédalier, scatola movimento, scatola movimento centrale, larghezza scatola, "
    "larghezza scatola movimento, brackethuis, brackethuisbreedte, bracketbreedte, trapashuis",
    "chainstay_spacing": "Kettenstrebenabstand am Tretlager, écartement des bases, distanza foderi",
    "seatstay_spacing": "Sitzstrebenabstand am Sitzrohr, écartement des haubans, distanza pendenti",
    "blade_spacing": "Gabelscheidenabstand, Gabelkopfbreite, écartement des fourreaux, distanza foderi forcella",
    "blade_straight": "gerader Scheidenteil, gerade Scheidenlänge",
    "stay_curve": "Sitzstrebenbogen",
    "seat_post_insertion": "seatpost insertion, post insertion, Einstecktiefe, Einstecktiefe Sattelstütze",
    "saddle_height": "Sitzhöhe Sattel, hauteur de selle, hauteur selle, altezza sella, zadelhoogte",
    "upper_stack": "stem stack, Vorbau über Steuerrohr, Steuersatz und Spacer, headset upper and spacers",
    "stem_length": "potence, longueur potence, longueur de potence, attacco manubrio, lunghezza attacco, stuurpen, "
    "stuurpenlengte",
    "bar_width": "bars, Lenker, cintre, largeur cintre, largeur de cintre, guidon, largeur guidon, manubrio, "
    "larghezza manubrio, piega, stuur, stuurbreedte",
    "crank_length": "crank arm, crank arm length, Kurbel, Kurbeln, Kurbelarm, Kurbelarmlänge, manivelle, manivelles, "
    "longueur manivelle, longueur de manivelle, longueur manivelles, pedivella, pedivelle, "
    "lunghezza pedivella, lunghezza pedivelle, cranklengte",
    "chainline": "ligne de chaîne, linea catena, linea di catena, kettinglijn",
    "rider_mass": "weight of rider, mass of rider, Fahrermasse, Gewicht Fahrer, Körpergewicht, poids du cycliste, "
    "poids cycliste, masse du cycliste, cycliste, peso ciclista, peso del ciclista, ciclista, "
    "gewicht rijder, rijdersgewicht, gewicht fietser, rijder",
    "saddle_share": "Anteil Sattel, Sattelanteil",
    "bar_share": "Anteil Lenker, Lenkeranteil",
    "pedal_share": "Anteil Pedale, Pedalanteil",
    "pedal_force": "force sur la pédale, forza sul pedale, pedaalkracht",
    "front_luggage": "front bags, front rack load, Gepäck vorne, Last vorn, bagages avant, charge avant, "
    "bagagli anteriori, carico anteriore, bagage voor",
    "rear_luggage": "rear bags, rear rack load, Last hinten, bagages arrière, charge arrière, bagagli posteriori, "
    "carico posteriore, bagage achter",
    "wheel_mass_front": "Vorderradgewicht, Gewicht Vorderrad",
    "wheel_mass_rear": "Hinterradgewicht, Gewicht Hinterrad",
    # Wheels: whole names of one side; names without a side are in WHEEL_NAMES.
    "bead_seat_front": "Vorderrad, Vorderradgröße, voorwiel",
    "bead_seat_rear": "Hinterrad, Hinterradgröße, achterwiel",
    "tyre_width_front": "Vorderreifen, Vorderradreifen, voorband",
    "tyre_width_rear": "Hinterreifen, Hinterradreifen, achterband",
    "wheel_radius_front": "Vorderradradius",
    "wheel_radius_rear": "Hinterradradius",
    "wheel_diameter_front": "Vorderraddurchmesser",
    "wheel_diameter_rear": "Hinterraddurchmesser",
}

# Names that leave a convention open -> how the item is then taken.
LOOSE: Mapping[str, tuple[str, str]] = {
    "fork_length": (
        "fork length, fork, Gabellänge, Gabel",
        "taken along the steering axis",
    ),
    "seat_tube": (
        "seat tube length, seat tube, ST, STL, Sitzrohr, Sitzrohrlänge, Rahmenhöhe",
        "taken from the bottom bracket centre to the top of the seat tube",
    ),
    "front_center": (
        "front centre, front center, FC, Tretlager zur Vorderachse",
        "taken straight from the bottom bracket to the front axle, not horizontal",
    ),
    "standover": (
        "standover, standover height, stand over, Überstandshöhe",
        "taken to the top tube's centre-line at its middle",
    ),
}

# Item -> further names that leave a convention open.
LOOSE_NAMES: Mapping[str, str] = {
    "fork_length": "fork height, Gabelhöhe, fourche, longueur de fourche, longueur fourche, hauteur de fourche, "
    "hauteur fourche, forcella, lunghezza forcella, altezza forcella, vork, voorvork, vorklengte, vorkhoogte",
    "seat_tube": "Sattelrohr, Sattelrohrlänge, Länge Sitzrohr, frame height, tube de selle, longueur tube de selle, "
    "hauteur de cadre, hauteur cadre, piantone, lunghezza piantone, tubo sella, tubo verticale, "
    "altezza telaio, zitbuis, zitbuislengte, zadelbuis, zadelbuislengte, framehoogte",
    "front_center": "front center length, front centre length, avant-centre, Tretlager bis Vorderachse, "
    "centro anteriore",
    "standover": "stand over height, stand-over, Überstandhöhe, Standhöhe, hauteur d'enjambement, enjambement, "
    "altezza di scavalco, stahoogte, overstaphoogte",
}

# Wheel item -> further names without a side.
WHEEL_NAMES: Mapping[str, str] = {
    "bead_seat": "wheels, wheel type, rims, rim size, Laufräder, Laufradgröße, Felgen, Radgröße, roue, roues, jante, "
    "jantes, taille de roue, ruota, ruote, cerchio, cerchi, wiel, wielen, wielmaat, velg",
    "tyre_width": "tyres, tires, tyre size, tire size, Reifengröße, Bereifung, pneu, pneus, largeur pneu, "
    "largeur de pneu, copertone, copertoni, larghezza copertone, gomma, gomme, band, banden, "
    "bandbreedte, bandenmaat",
    "wheel_radius": "Radradius, Rollradius, rayon de roue, raggio ruota, wielstraal",
    "wheel_diameter": "Raddurchmesser, diamètre de roue, diametro ruota, wieldiameter",
}
SIDES: Mapping[str, tuple[str, ...]] = {
    "front": ("front", "vorn", "vorne", "avant", "anteriore", "voor"),
    "rear": ("rear", "back", "hinten", "arrière", "posteriore", "achter"),
    "both": ("",),
}

_TOP_TUBE = "write 'effective top tube' (horizontal) or 'top tube centre to centre'"
# What to write instead -> names that mean two different things.
AMBIGUOUS: Mapping[str, str] = {
    _TOP_TUBE: "top tube, top tube length, TT, TT length, TTL, Oberrohr, Oberrohrlänge, tube supérieur, "
    "tube horizontal, tubo orizzontale, tubo superiore, bovenbuis, bovenbuislengte",
    "write 'seat angle' for the angle of the seat tube itself": "effective seat angle, effective seat tube angle, "
    "virtual seat angle, effektiver Sitzwinkel, effektiver Sitzrohrwinkel",
    "write 'fork offset' (Gabelvorbiegung) or 'trail' (Nachlauf)": "Vorlauf",
    "write 'pedal offset', from the frame's middle plane to the pedal's centre": "Q factor, Q-Faktor, Q, facteur Q",
    "write 'seat tube', with 'centre to top' or 'centre to centre'": "frame size, size, Rahmengröße, taille, "
    "taille de cadre, taglia, framemaat, maat",
}

# Member -> its names besides its own.
TUBE_NAMES: Mapping[str, str] = {
    "head_tube": "HT, Steuerrohr, Steuerkopfrohr, Steuerkopf, Lenkkopfrohr, tube de direction, douille de direction, "
    "douille, tubo sterzo, tubo di sterzo, canotto sterzo, balhoofdbuis, balhoofd",
    "top_tube": "TT, Oberrohr, tube supérieur, tube horizontal, tubo orizzontale, tubo superiore, bovenbuis",
    "down_tube": "DT, Unterrohr, tube diagonal, tube oblique, tubo obliquo, tubo diagonale, onderbuis, schuine buis",
    "seat_tube": "ST, Sitzrohr, Sattelrohr, tube de selle, piantone, tubo sella, tubo verticale, zitbuis, zadelbuis",
    "chainstay": "chainstays, chain stay, chain stays, CS, Kettenstrebe, Kettenstreben, base, bases, "
    "fodero orizzontale, foderi orizzontali, foderi bassi, liggende achtervork",
    "seatstay": "seatstays, seat stay, seat stays, SS, Sitzstrebe, Sitzstreben, Sattelstrebe, Sattelstreben, hauban, "
    "haubans, pendente, pendenti, foderi verticali, fodero verticale, foderi alti, staande achtervork",
    "fork_blade": "fork blades, blade, blades, fork, fork leg, fork legs, Gabel, Gabelscheide, Gabelscheiden, Scheide, "
    "Scheiden, fourreau, fourreaux, fourche, foderi forcella, fodero forcella, forcella, vorkpoot, "
    "vorkpoten, voorvork",
    "steerer": "steerer tube, steering column, steering tube, fork steerer, fork column, Gabelschaft, Schaft, "
    "Gabelschaftrohr, Schaftrohr, pivot, pivot de fourche, tube pivot, cannotto, canotto forcella, "
    "stuurbuis, vorkbuis, balhoofdbuis vork",
}

# Part -> its names besides its own.
PART_NAMES: Mapping[str, str] = {
    "bb_shell": "bottom bracket shell, BB shell, shell, Tretlagergehäuse, boîtier de pédalier, scatola movimento, "
    "brackethuis",
    "rear_hub": "hub rear, rear axle, axle rear, Nabe hinten, Hinterradnabe, Hinterachse, moyeu arrière, "
    "mozzo posteriore, achternaaf",
    "front_hub": "hub front, front axle, axle front, Nabe vorn, Vorderradnabe, Vorderachse, moyeu avant, "
    "mozzo anteriore, voornaaf",
    "fork_crown_piece": "fork crown, crown, crown piece, Gabelkopf, tête de fourche, testa forcella, vorkkroon",
    "bridge": "bridges, chainstay bridge, seatstay bridge, brake bridge, Steg, Stege, Bremssteg, entretoise, "
    "ponticello, brug",
    "rear_dropout": "rear dropouts, dropout rear, dropout, dropouts, Ausfallende, Ausfallenden, Ausfallende hinten, "
    "patte arrière, pattes, forcellino, forcellini, achterpad, achterpadden",
    "front_dropout": "front dropouts, dropout front, fork end, fork ends, fork tip, fork tips, Ausfallende vorn, "
    "Gabelausfallende, patte avant, forcellino anteriore, voorpad, voorpadden",
    "seat_post": "seatpost, seat pillar, post, Sattelstütze, tige de selle, reggisella, zadelpen",
    "stem": "Vorbau, potence, attacco manubrio, stuurpen",
    "bar": "handlebar, handlebars, bars, Lenker, cintre, guidon, manubrio, stuur",
}
SOLID_WORDS = ("solid", "massiv", "voll", "plein", "pieno", "massief")  # in the column of the wall

# Table -> column -> header words that mean it; the first word of each is its name in messages.
_COLUMN_NAMES: Mapping[str, Mapping[str, str]] = {
    "items": {
        "item": "item, items, dimension, dimensions, Maß, Maße, Bezeichnung, name, was, Größe, cote, désignation, "
        "mesure, misura, voce, quota, maat, omschrijving",
        "value": "value, values, Wert, Werte, valeur, valeurs, valore, valori, waarde",
        "unit": "unit, units, Einheit, Einheiten, unité, unités, unità, eenheid",
        "note": "note, notes, comment, comments, remark, remarks, Bemerkung, Bemerkungen, Notiz, Anmerkung, Kommentar, "
        "Hinweis, remarque, remarques, commentaire, nota, osservazioni, opmerking, opmerkingen",
    },
    "tubes": {
        "tube": "tube, tubes, part, Rohr, Rohre, tubo, tubi, buis, buizen",
        "outside_diameter": "outside diameter, outer diameter, diameter, diam, dia, OD, Außendurchmesser, "
        "Durchmesser, Außen-Ø, Ø, Ø außen, Aussendurchmesser, diamètre, diamètre extérieur, "
        "diametro, diametro esterno, buitendiameter",
        "wall": "wall, walls, wall thickness, thickness, WT, Wandstärke, Wandstärken, Wanddicke, Wand, épaisseur, "
        "épaisseurs, paroi, épaisseur de paroi, spessore, spessori, wanddikte",
        "butts": "butts, butt, butting, butt length, butt lengths, butted ends, butted lengths, Enden, Endenlänge, "
        "Konifizierung, Konifizierungen, Konifizierungslängen, Butts Längen, longueurs renforcées, renforts, "
        "rinforzi, lunghezza rinforzi, versterkte einden",
        "taper": "taper, tapers, taper length, taper lengths, transition, transitions, Übergang, Übergänge, "
        "Übergangslänge, Übergangslängen, transizione, transizioni, overgang",
        "oval_width": "oval width, width, width across, Breite, Breite quer, largeur, larghezza, breedte",
        "straight": "straight, straight length, straight lengths, cylindrical, cylindrical length, zylindrisch, "
        "zylindrische Länge, gerade Länge, partie cylindrique, longueur cylindrique, tratto cilindrico, "
        "cilindrische lengte",
        "corner": "corner, corners, corner radius, Eckenradius, Eckradius, rayon d'angle, raggio angolo, hoekradius",
        "from": "from, starts at, begins at, start, von, beginnt an, de, depuis, da, van",
        "to": "to, ends at, end, bis, nach, endet an, à, jusqu'à, a, naar, tot",
        "bend": "bend, bends, bent, curve, curved, Biegung, gebogen, Bogen, cintrage, cintré, curva, curvatura, bocht",
        "joint": "joint, joints, joined, Verbindung, Verbindungen, assemblage, giunzione, giunzioni, verbinding",
        "material": "material, materials, alloy, Werkstoff, Legierung, matériau, matière, materiale, lega, materiaal",
        "note": "note, notes, comment, comments, remark, remarks, Bemerkung, Bemerkungen, Notiz, Anmerkung, remarque, "
        "nota, opmerking",
    },
    "materials": {
        "material": "material, Werkstoff, matériau, matière, materiale, materiaal",
        "E": "E, E modulus, Young's modulus, E-Modul, Elastizitätsmodul, module E, module d'Young, modulo E",
        "G": "G, G modulus, shear modulus, G-Modul, Schubmodul, module G, module de cisaillement, modulo G",
        "nu": "nu, ν, Poisson, Poisson's ratio, Querkontraktionszahl, Poissonzahl",
        "density": "density, rho, ρ, Dichte, densité, masse volumique, densità, dichtheid",
        "yield_strength": "yield, yield strength, Streckgrenze, Re, Rp0.2, limite élastique, snervamento, vloeigrens",
        "ultimate": "ultimate, ultimate strength, tensile strength, UTS, Zugfestigkeit, Rm, résistance à la traction, "
        "resistenza a trazione, treksterkte",
        "endurance": "endurance, endurance limit, fatigue, fatigue limit, Dauerfestigkeit, limite d'endurance, "
        "limite di fatica",
        "note": "note, notes, comment, source, Bemerkung, Quelle, nota",
    },
    # A frame that no plan holds, as a table of its points and one of its tubes.
    "nodes": {
        "node": "node, nodes, Knoten, nœud, noeud, nodo, nodi, knoop, knopen",
        "x": "x",
        "y": "y",
        "z": "z",
        "mass": "mass, weight, Masse, Gewicht, massa",
        "note": "note, notes, comment, Bemerkung, nota",
    },
    # A member is bought like a tube: the tube table's columns are added below.
    "members": {
        "member": "member, members, Stab, Stäbe, barre, asta, staaf",
        "from": "from, von, de, da, van",
        "to": "to, bis, nach, naar",
        "A": "A, area, Fläche",
        "Iy": "Iy, I sideways",
        "Iz": "Iz, I in plane",
        "J": "J, torsion constant, Torsionskonstante",
    },
    "supports": {
        "support": "support, supports, Lager, Auflager, appui, appoggio, vincolo, steun",
        "held": "held, holds, directions, gehalten, bloqué, bloccato, vast",
        "load_case": "load case, case, Lastfall, cas de charge, caso di carico, belastingsgeval",
        "touching": "touching, by, durch",
        "note": "note, notes, comment, Bemerkung, nota",
    },
    "loads": {
        "load": "load, load at, loaded node, Last, Last an, charge, carico, belasting",
        "load_case": "load case, case, Lastfall, cas de charge, caso di carico, belastingsgeval",
        "Fx": "Fx",
        "Fy": "Fy",
        "Fz": "Fz",
        "Mx": "Mx",
        "My": "My",
        "Mz": "Mz",
        "note": "note, notes, comment, Bemerkung, nota",
    },
}
COLUMN_NAMES: Mapping[str, Mapping[str, str]] = {
    **_COLUMN_NAMES,
    "members": {
        **{key: words for key, words in _COLUMN_NAMES["tubes"].items() if key != "tube"},
        **_COLUMN_NAMES["members"],
    },
}


def split_names(names: str) -> tuple[str, ...]:
    """The names of a text that lists them."""
    return tuple(name for name in names.split(", ") if name)
