"""Electrical checks of the circuit that need no simulation.

Takes a `Circuit`; gives a sentence for each fault. Each check is about a mistake that a drawing can hide: a net that
ends nowhere, a chip without supply, a bus without pull-ups, two chips with one address, an enable line that floats.
"""

SUPPLIES = {"+5V", "+3V3", "+9V", "+3V3_REF", "CABLE_3V3"}
GROUNDS = {"GND", "CABLE_GND"}
BUS_PAIRS = [("SDA", "SCL"), ("CABLE_SDA", "CABLE_SCL")]
# What gives each supply: part and pin.
SOURCES = {"+5V": ("U4", "40"), "+3V3": ("U4", "36"), "+9V": ("R20", "2"), "+3V3_REF": ("U6", "2"), "CABLE_3V3": ("J2", "3b")}
# The strongest pull-down that still lets an RP2350 pin of the faulty stepping read low: threads of the erratum say 8.2 kOhm.
LARGEST_PULL_DOWN = 8_200


def faults(circuit):
    """Returns all faults."""
    found = []
    for check in (lonely_nets, supplies, decoupling, pull_ups, addresses, enable_pull_down, kelvin, load_path, second_look):
        found += check(circuit)
    return found


def ohms(text):
    """Reads \"3.9 kOhm\" as 3900.0."""
    number, unit = text.split()[:2]
    return float(number) * {"Ohm": 1.0, "kOhm": 1e3, "mOhm": 1e-3}[unit]


def lonely_nets(circuit):
    """Every net joins at least two pins."""
    return [f"net {net} has one pin only: {pins[0][0]}.{pins[0][1]}" for net, pins in circuit.nets().items() if len(pins) < 2]


def supplies(circuit):
    """Every chip has a supply and a ground, and every supply has its source."""
    found = []
    for ref, part in circuit.parts.items():
        if ref.startswith("U"):
            nets = set(part.nets.values())
            if not nets & SUPPLIES:
                found.append(f"{ref} has no supply")
            if not nets & GROUNDS:
                found.append(f"{ref} has no ground")
    for net, (ref, pin) in SOURCES.items():
        if ref not in circuit.parts or circuit.parts[ref].nets.get(pin) != net:
            found.append(f"supply {net} does not come from {ref}.{pin}")
    return found


def decoupling(circuit):
    """Every supply of a chip has a capacitor to ground on the same net."""
    found = []
    for supply in sorted(SUPPLIES):
        has = any(part.symbol == "capacitor" and supply in part.nets.values() and set(part.nets.values()) & GROUNDS
                  for part in circuit.parts.values())
        if not has:
            found.append(f"supply {supply} has no capacitor to ground")
    return found


def pull_ups(circuit):
    """Both bus lines are pulled up once, to 3.3 V, by the same value; a cable's lines go on to a bus line."""
    found, values = [], []
    for line in BUS_PAIRS[0]:
        pulls = [part for part in circuit.parts.values() if part.symbol == "resistor" and set(part.nets.values()) == {line, "+3V3"}]
        if len(pulls) != 1:
            found.append(f"bus line {line} has {len(pulls)} pull-ups to +3V3 instead of one")
        values += [ohms(part.value) for part in pulls]
    if len(set(values)) > 1:
        found.append(f"the pull-ups of the bus differ: {values}")
    return found


def addresses(circuit):
    """Every chip on the bus has an address, and no two have the same."""
    found, taken = [], {}
    for ref, part in circuit.parts.items():
        on_bus = any(sda in part.nets.values() for sda, _ in BUS_PAIRS)
        if ref.startswith("U") and on_bus and ref != "U4":
            if part.address is None:
                found.append(f"{ref} is on the bus and states no address")
            elif part.address in taken:
                found.append(f"{ref} and {taken[part.address]} have the same address 0x{part.address:02x}")
            else:
                taken[part.address] = ref
    return found


def enable_pull_down(circuit):
    """The enable line of the load has two pull-downs, each strong enough for the leaky pins of the RP2350."""
    pulls = [part for part in circuit.parts.values() if part.symbol == "resistor" and set(part.nets.values()) == {"ENABLE_GATE", "GND"}]
    if not pulls:
        return ["ENABLE_GATE has no pull-down: the load could be on before the program starts"]
    found = [f"the pull-down {part.ref} of ENABLE_GATE is weaker than {LARGEST_PULL_DOWN} Ohm (RP2350 erratum E9)"
             for part in pulls if ohms(part.value) > LARGEST_PULL_DOWN]
    if len(pulls) < 2:
        found.append("ENABLE_GATE has one pull-down only: a second one must hold it when the first breaks off")
    return found


def kelvin(circuit):
    """Force and sense leads share no net between the cell's tab, or the pack's contact, and the board."""
    nets = circuit.nets()
    found = []
    for pole in ("TAB_POS", "TAB_NEG", "PACK_POS", "PACK_NEG"):
        contacts = [ref for ref, _ in nets.get(pole, []) if ref.startswith("X")]
        if len(contacts) != 2:
            found.append(f"{pole} has {len(contacts)} contacts instead of one for force and one for sense")
    for sense in ("SENSE_POS", "SENSE_NEG"):
        if not any(ref == "U1" for ref, _ in nets.get(sense, [])):
            found.append(f"{sense} does not reach the difference amplifier")
    return found


def load_path(circuit):
    """The load current passes fuse, both cut-outs, both pass transistors and the shunt, one after the other."""
    passes = [("F1", "1", "2"), ("S2", "1", "2"), ("J1", "1", "1b"), ("Q1", "D", "S"), ("Q6", "S", "D"), ("RS1", "1", "2"), ("S1", "1", "2"),
              ("Q2", "D", "S"), ("RS2", "1", "2"), ("J1", "4b", "4")]
    found, net = [], circuit.parts["X1"].nets["2"]
    for ref, entry, leave in passes:
        part = circuit.parts.get(ref)
        if part is None or part.nets[entry] != net:
            found.append(f"the load path is broken before {ref}.{entry}: it comes on {net}")
            return found
        net = part.nets[leave]
    if net != circuit.parts["X4"].nets["2"]:
        found.append(f"the load path ends on {net} and does not return to the clip X4")
    return found


def second_look(circuit):
    """The controller sees force lead, sink and reference past all that the first reading depends on."""
    halves = (("FORCE_POS", "LOOK_V", "R29", "R30"), ("+3V3_REF", "LOOK_REF", "R31", "R32"))
    found, nets = [], circuit.nets()
    for source, pin, upper, lower in halves:
        one, other = circuit.parts.get(upper), circuit.parts.get(lower)
        if one is None or other is None or set(one.nets.values()) != {source, pin} or set(other.nets.values()) != {pin, "GND"}:
            found.append(f"the second look: {upper} and {lower} do not divide {source} onto {pin}")
        elif one.value != other.value:
            found.append(f"the second look: {upper} and {lower} do not halve {source}: {one.value} and {other.value}")
    tap = circuit.parts.get("R33")
    if tap is None or set(tap.nets.values()) != {"SOURCE_TAP", "LOOK_I"}:
        found.append("the second look: R33 does not lead from SOURCE_TAP to LOOK_I")
    for pin in ("LOOK_V", "LOOK_I", "LOOK_REF"):
        shared = [ref for ref, _ in nets.get(pin, []) if ref in ("U1", "U2", "RS1", "J1")]
        if shared:
            found.append(f"the second look: {pin} also lies at {', '.join(shared)}, which the first reading depends on")
    return found
