# Runs of induction motors by the adaptive solver of eighth order of SciPy, from the Python package registry.
#
# Standard input: JSON, a list of runs. Standard output: JSON, for each run what this program finds with the equations
# below and, where the package is to be had and the motor is a plain cage on three lines, what it finds with the machine
# equations of gym-electric-motor.
#
# The equations are those of a symmetrical induction machine in the stationary frame (Krause, Wasynczuk and Sudhoff,
# Analysis of Electric Machinery) with the stator's current i and the rotor's flux psi as states, alpha + j beta as one
# complex number whose length is a phase's peak:
#
#   e = v - Rs i_line      i_line = i + g e                      g: core loss behind Rs
#   Ls' di/dt = e - (Lm/Lr) dpsi/dt                              Ls' = Ls - Lm^2/Lr
#   dpsi/dt = (j p w - Rr/Lr) psi + (Lm Rr/Lr) i                 Rr = Rr0 (1 + deep s^2), s the slip within 0 .. 1
#   T = 1.5 p (Lm/Lr) Im(conj(psi) i)
#   J dw/dt = T - (3 Rstray I^2 + Pf) w / ws^2 - c w^2 - Tload   I: rms of the line's current
#
# With line a open the current along alpha is nought and stays so; along beta nothing changes.
import json
import sys

import numpy as np
import scipy
from scipy.integrate import solve_ivp

try:
    from gym_electric_motor.physical_systems.electric_motors import SquirrelCageInductionMotor
except ImportError:
    SquirrelCageInductionMotor = None

FINE_S = 1e-5
LEVELS = [0.5, 0.9, 0.95, 0.99]


class Machine:
    """The equations above for one circuit."""

    def __init__(self, c, driven_kg_m2, windage_nm_s2):
        w = 2 * np.pi * c["frequency_hz"]
        self.c, self.p, self.sync = c, c["pole_pairs"], w / c["pole_pairs"]
        self.lm = c["magnetising_ohm"] / w
        self.ls, self.lr = self.lm + c["stator_leakage_ohm"] / w, self.lm + c["rotor_leakage_ohm"] / w
        self.leakage = self.ls - self.lm**2 / self.lr
        self.inertia, self.windage = c["inertia_kg_m2"] + driven_kg_m2, windage_nm_s2

    def behind(self, v, i, part):
        """Voltage behind the stator's resistance, and the line's current."""
        g = self.c["core_siemens"]
        e = part((v - self.c["stator_ohm"] * i) / (1 + self.c["stator_ohm"] * g))
        return e, part(i + g * e)

    def torque(self, y):
        return 1.5 * self.p * self.lm / self.lr * (y[2] * y[1] - y[3] * y[0])

    def slope(self, v, y, part, load_nm):
        i, psi, speed = complex(y[0], y[1]), complex(y[2], y[3]), y[4]
        slip = min(max(1 - speed / self.sync, 0), 1)
        rr = self.c["rotor_ohm"] * (1 + self.c["deep_bar"] * slip**2)
        dpsi = (1j * self.p * speed - rr / self.lr) * psi + self.lm * rr / self.lr * i
        e, line = self.behind(v, i, part)
        di = part((e - self.lm / self.lr * dpsi) / self.leakage)
        brake = (3 * self.c["stray_ohm"] * abs(line) ** 2 / 2 + self.c["friction_w"]) * speed / self.sync**2
        brake += self.windage * speed * abs(speed) + load_nm
        return [di.real, di.imag, dpsi.real, dpsi.imag, (self.torque(y) - brake) / self.inertia]


class Gym:
    """The same face over the equations of gym-electric-motor; no losses but those of the windings."""

    def __init__(self, machine):
        c, lm = machine.c, machine.lm
        self.inertia = machine.inertia
        self.motor = SquirrelCageInductionMotor(
            motor_parameter=dict(
                p=int(machine.p), l_m=lm, l_sigs=machine.ls - lm, l_sigr=machine.lr - lm,
                j_rotor=self.inertia, r_s=c["stator_ohm"], r_r=c["rotor_ohm"],
            )
        )  # fmt: skip

    def behind(self, v, i, part):
        return v, i

    def torque(self, y):
        return self.motor.torque(y)

    def slope(self, v, y, part, load_nm):
        electrical = self.motor.electrical_ode(np.append(y[:4], 0.0), np.array([v.real, v.imag]), y[4])
        return [*electrical[:4], (self.torque(y) - load_nm) / self.inertia]


def solve(run, machine):
    """Times, states and line currents on the fine grid."""
    c = run["circuit"]
    peak, w = np.sqrt(2 / 3) * c["line_v"], 2 * np.pi * c["frequency_hz"]
    y, begin, times, states, currents = [0.0] * 5, 0.0, [], [], []
    for span in run["spans"]:
        whole = not span["line_a_open"]
        part = (lambda x: x) if whole else (lambda x: 1j * x.imag)
        voltage = lambda t: span["voltage"] * peak * np.exp(1j * w * t)
        if not whole:
            y[0] = 0.0
        slope = lambda t, y: machine.slope(voltage(t), y, part, span["load_nm"])
        last = span is run["spans"][-1]
        grid = np.arange(round(begin / FINE_S), round(span["until_s"] / FINE_S) + last) * FINE_S
        done = solve_ivp(slope, (begin, span["until_s"]), y, "DOP853", rtol=1e-9, atol=1e-9, dense_output=True)
        assert done.success, done.message
        found = done.sol(grid)
        i = found[0] + 1j * found[1]
        both = (lambda x: x) if whole else (lambda x: 1j * np.imag(x))
        times.append(grid)
        states.append(found)
        currents.append(machine.behind(voltage(grid), i, both)[1])
        y, begin = list(done.y[:, -1]), span["until_s"]
    return np.concatenate(times), np.concatenate(states, axis=1), np.concatenate(currents)


def curves_and_figures(run, machine):
    t, y, i = solve(run, machine)
    c = run["circuit"]
    sync_rpm = 60 * c["frequency_hz"] / c["pole_pairs"]
    rpm, torque = y[4] * 30 / np.pi, machine.torque(y)
    phases = [(i * np.exp(-2j * np.pi * n / 3)).real for n in range(3)]
    figures = {
        "torque_max_nm": torque.max(), "torque_max_s": t[torque.argmax()],
        "torque_min_nm": torque.min(), "torque_min_s": t[torque.argmin()],
        "vector_peak_a": abs(i).max(),
        "top_rpm": rpm.max(),
    }  # fmt: skip
    figures |= {f"peak_{name}_a": abs(phase).max() for name, phase in zip("abc", phases)}
    for level in LEVELS:
        k = int((rpm >= level * sync_rpm).argmax())
        figures[f"t{level * 100:.0f}_s"] = np.interp(level * sync_rpm, rpm[k - 1 : k + 1], t[k - 1 : k + 1])
    every = round(run["every_s"] / FINE_S)
    curves = {"speed_rpm": rpm, "torque_nm": torque, "ia_a": phases[0], "ib_a": phases[1], "ic_a": phases[2]}
    return {
        "figures": {name: float(x) for name, x in figures.items()},
        "curves": {name: curve[::every].tolist() for name, curve in curves.items()},
    }


def of(run):
    machine = Machine(run["circuit"], run["driven_kg_m2"], run["windage_nm_s2"])
    losses = [run["circuit"][name] for name in ("deep_bar", "core_siemens", "stray_ohm", "friction_w")]
    plain = not any(losses) and not run["windage_nm_s2"] and not any(span["line_a_open"] for span in run["spans"])
    gym = SquirrelCageInductionMotor is not None and plain
    return {
        "written out": curves_and_figures(run, machine),
        "gym-electric-motor": curves_and_figures(run, Gym(machine)) if gym else None,
    }


runs = json.load(sys.stdin)
json.dump({"numpy": np.__version__, "scipy": scipy.__version__, "runs": [of(run) for run in runs]}, sys.stdout)
