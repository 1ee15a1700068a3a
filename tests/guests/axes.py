"""Simple axes for tests of hosts and controllers."""

import math


class DrivenAxis:
    """Inertia and friction under a current, and an encoder: `J dw/dt = K i - Tc sgn w`."""

    def __init__(self, begin, inertia_share=1.0, friction_share=1.0, at_deg=0.0):
        self.begin = begin
        self.inertia = begin["inertia_kg_m2"] * inertia_share
        self.friction = begin["friction_n_m"] * friction_share
        self.angle, self.speed, self.current = math.radians(at_deg), 0.0, 0.0

    def step(self, current_a, seconds, parts=20):
        limit = self.begin["current_limit_a"]
        self.current = max(-limit, min(limit, current_a))
        torque, dt = self.current * self.begin["torque_constant_n_m_per_a"], seconds / parts
        for _ in range(parts):
            # Friction takes what there is, until the axis stands.
            free = self.speed + torque / self.inertia * dt
            brake = self.friction / self.inertia * dt
            self.speed = math.copysign(max(0.0, abs(free) - brake), free)
            self.angle += self.speed * dt

    def counts(self):
        return math.floor(self.angle / (2 * math.pi) * self.begin["counts_per_turn"])

    def degrees(self):
        return math.degrees(self.angle)


class CommandedAxis:
    """A face behind its own controller: it follows a smooth set-point late, and overshoots."""

    def __init__(self, at_deg=0.0):
        self.begun, self.moves, self.at = at_deg, [], at_deg

    def command(self, starts_s, quarters):
        self.moves.append((starts_s, 90.0 * quarters, 0.035 * math.sqrt(abs(quarters))))

    def setpoint(self, now_s):
        """Angle, and whether it moves."""
        angle, busy = self.begun, False
        for starts_s, way, lasts_s in self.moves:
            share = max(0.0, min(1.0, (now_s - starts_s) / lasts_s))
            angle += way * (0.5 - 0.5 * math.cos(math.pi * share))
            busy = busy or 0.0 < share < 1.0
        return angle, busy

    def encoder(self, now_s):
        """What the axis does: 1 ms late, then a swing of up to 2 degrees that dies away."""
        angle = self.setpoint(now_s - 1e-3)[0]
        for starts_s, way, lasts_s in self.moves:
            after = now_s - 1e-3 - starts_s - lasts_s
            if after > 0.0:
                swing = 2.0 * math.exp(-after / 4e-3) * math.sin(after / 1.5e-3)
                angle += math.copysign(swing, way) if swing else 0.0
        return angle
