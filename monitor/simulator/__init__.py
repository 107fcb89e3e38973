"""simulator"""
