// SPDX-License-Identifier: Apache-2.0
// When a sample speaks for the whole loop: two stirred tanks with a flow round between them, and flushing of
// one tank.
//
//   lambda = Q (1/V1 + 1/V2);  C1/Cmixed = 1 + (V2/V1) e^(-lambda t);  C2/Cmixed = 1 - e^(-lambda t)
// after a dose into tank 1 at t = 0. Mass balance; real media beds are slower (dead corners, flood and
// drain).
#pragma once
#include "units/quantity.hpp"

namespace helmwater::chem {

struct TwoTanks {
  units::Litres dosed{0};
  units::Litres other{0};
  units::LitresPerHour flow{0};
};
units::PerHour mixing_rate(const TwoTanks& tanks);
// Concentration over the fully mixed one.
double relative_in_dosed(const TwoTanks& tanks, units::Hours after);
double relative_in_other(const TwoTanks& tanks, units::Hours after);
// Time until a sample is within the relative error (0..1) of fully mixed; 0 if it always is.
units::Hours time_to_sample_dosed(const TwoTanks& tanks, double relative_error);
units::Hours time_to_sample_other(const TwoTanks& tanks, double relative_error);
// Flow times time over the water of both tanks.
double turnovers(const TwoTanks& tanks, units::Hours after);

// Share of a stirred tank's water that has passed a filter after so many turnovers of the tank: 1 - e^-N.
double processed_fraction(double turnover_count);
// Turnovers that process this share (0..1).
double turnovers_to_process(double share);

// Water changes. `source` is the new water's concentration; all three in one unit.
// Share of the water (0..1) to replace at once to come from `from` to `to`.
double share_to_change(double from, double to, double source);
double after_water_changes(double from, double source, double share, int times);
// Tank volumes to run through while draining as much.
double flush_volumes(double from, double to, double source);

}  // namespace helmwater::chem
