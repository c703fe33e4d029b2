// SPDX-License-Identifier: Apache-2.0
#include "rival_cvode.hpp"

#ifdef HELMWATER_BENCH_SUNDIALS
#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <stdexcept>

namespace helmwater::bench {
namespace {

// A state's relative error stops to matter below this, mg/L, meq/L, mmol/L: a tenth of what a chart tells apart, one for
// nitrate. Capacities (mg N/L/d) begin as low as 1e-5 and their growth keeps every error made there: ten and a thousand
// times more doubles CVODE's errors and saves nothing, less changes nothing.
Flat usual_sizes() {
  Flat all;
  all.fill(0.1);
  loop::State<double> size = state_of(all.data());
  size.no3 = 1;
  size.r_a = size.r_n = 1e-5;
  return flat_of(size);
}

int rate(realtype, N_Vector at, N_Vector out, void* self) {
  static_cast<RightHandSide*>(self)->rate(NV_DATA_S(at), NV_DATA_S(out));
  return 0;
}

void check(int flag, const char* what) {
  if (flag < 0) throw std::runtime_error(what);
}

// CVODE's objects for one member.
class Solver {
 public:
  Solver(RightHandSide& f, const loop::State<double>& y, double tolerance) {
    check(SUNContext_Create(nullptr, &context_), "SUNContext_Create");
    constexpr sunindextype n = static_cast<sunindextype>(kStates);
    y_ = N_VNew_Serial(n, context_);
    tolerances_ = N_VNew_Serial(n, context_);
    const Flat sizes = usual_sizes();
    for (std::size_t i = 0; i < kStates; ++i) NV_DATA_S(tolerances_)[i] = tolerance * sizes[i];
    put(y);
    matrix_ = SUNDenseMatrix(n, n, context_);
    linear_ = SUNLinSol_Dense(y_, matrix_, context_);
    memory_ = CVodeCreate(CV_BDF, context_);
    check(CVodeInit(memory_, rate, 0, y_), "CVodeInit");
    check(CVodeSetUserData(memory_, &f), "CVodeSetUserData");
    check(CVodeSVtolerances(memory_, tolerance, tolerances_), "CVodeSVtolerances");
    check(CVodeSetLinearSolver(memory_, linear_, matrix_), "CVodeSetLinearSolver");
    check(CVodeSetMaxNumSteps(memory_, 1000000), "CVodeSetMaxNumSteps");
    check(CVodeSetErrFile(memory_, nullptr), "CVodeSetErrFile");
  }
  Solver(const Solver&) = delete;
  Solver& operator=(const Solver&) = delete;
  ~Solver() {
    CVodeFree(&memory_);
    SUNLinSolFree(linear_);
    SUNMatDestroy(matrix_);
    N_VDestroy(tolerances_);
    N_VDestroy(y_);
    SUNContext_Free(&context_);
  }
  void put(const loop::State<double>& y) { std::memcpy(NV_DATA_S(y_), &y, sizeof y); }
  const double* at() const { return NV_DATA_S(y_); }
  void restart(double from, double to) {
    check(CVodeReInit(memory_, from, y_), "CVodeReInit");
    check(CVodeSetStopTime(memory_, to), "CVodeSetStopTime");
  }
  void to(double day) {
    realtype reached = 0;
    check(CVode(memory_, day, y_, &reached, CV_NORMAL), "CVode");
  }
  long steps() const {
    long count = 0;
    CVodeGetNumSteps(memory_, &count);
    return count;
  }

 private:
  SUNContext context_ = nullptr;
  N_Vector y_ = nullptr, tolerances_ = nullptr;
  SUNMatrix matrix_ = nullptr;
  SUNLinearSolver linear_ = nullptr;
  void* memory_ = nullptr;
};

}  // namespace

bool has_cvode() { return true; }

std::vector<Pools> by_cvode(const StartupProblem& problem, std::size_t member, double tolerance, Work& work) {
  RightHandSide f = right_hand_side(problem, member);
  Solver solver(f, f.member->start, tolerance);
  std::vector<Pools> seen;
  for (const Segment& segment : problem.segments) {
    loop::State<double> y = state_of(solver.at());
    f.begin(segment, y);
    solver.put(y);
    solver.restart(segment.from, segment.to);
    for (double day : segment.days) {
      solver.to(day);
      seen.push_back(pools_of(solver.at()));
    }
    if (segment.days.empty() || segment.days.back() < segment.to) solver.to(segment.to);
    work.steps += solver.steps();  // since the restart
  }
  work.calls += f.calls;
  return seen;
}

}  // namespace helmwater::bench

#else

namespace helmwater::bench {

bool has_cvode() { return false; }
std::vector<Pools> by_cvode(const StartupProblem&, std::size_t, double, Work&) { return {}; }

}  // namespace helmwater::bench

#endif
