"""science"""
