/// The whole contract of checks at once. Each header of it says one thing; include what you use.
#pragma once

#include "checks/definition.hpp"
#include "checks/erased.hpp"
