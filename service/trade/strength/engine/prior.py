"""The priors of the strength engine on the log scale."""

import math
from dataclasses import dataclass

from service.trade.strength.engine.normal import Array


@dataclass(frozen=True)
class LogPrior:
    """Means and standard deviations of theta, log sigma and log tau."""

    theta_mean: float
    theta_sd: float
    sigma_log_mean: float
    sigma_log_sd: float
    tau_log_mean: float
    tau_log_sd: float

    def log_sigma_density(self, log_sigma: Array) -> Array:
        """Return the log density of log sigma, up to a constant."""
        return -(((log_sigma - self.sigma_log_mean) / self.sigma_log_sd) ** 2) / 2

    def log_tau_density(self, log_tau: Array) -> Array:
        """Return the log density of log tau, up to a constant."""
        return -(((log_tau - self.tau_log_mean) / self.tau_log_sd) ** 2) / 2

    def log_theta_density(self, theta: Array) -> Array:
        """Return the log density of theta, with its constant."""
        return -(((theta - self.theta_mean) / self.theta_sd) ** 2) / 2 - math.log(self.theta_sd)
